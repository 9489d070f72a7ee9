"""Formats in and out, one module each: lists of animals, waypoints, photographs, loggers, tables.

Not here: what the values mean (``book``) or where they are kept (``store``).
Start with ``lists.py``.
"""
