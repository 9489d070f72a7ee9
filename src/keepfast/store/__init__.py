"""The only room that knows SQL: append an entry, read since, derived tables, queries.

Not here: what an entry means (``book``).
"""
