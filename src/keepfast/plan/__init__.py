"""Decisions, built on nature (``science``) and on what people decided (``rules``).

Here: the plan of each animal, the table for the evening, trays, the race, the watch, air, steps; seeded draws.
Not here: reading and writing files, SQL, pages, screens.
Start with ``evening.py``.
"""
