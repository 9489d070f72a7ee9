"""The only room that knows SQL: append an entry, read since, derived tables, queries.

Not here: what an entry means (``book``).
Start with ``ledger.py`` for how an entry is kept, and ``derived.py`` for the state that follows from all of them.
"""
