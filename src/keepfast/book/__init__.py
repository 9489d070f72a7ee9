"""The meaning of the record: what an animal, a measurement, an entry is, and how an entry changes the state.

Here: frozen objects, entries, numbers, checks, merging.
Not here: SQL (``store``), formats (``exchange``), screens.
Start with ``animals.py`` for what was observed and ``entries.py`` for the ink.
"""
