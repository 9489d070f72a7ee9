"""What people decided: dated, sourced data files that a museum copies, edits and passes on.

Here: TOML files by subject (``protocols/``, ``limits/``, ``shelters/``, ``cautions/``, ``sheets/``) and one loader for
each, all standing on ``sources`` (reading, dating, checking). Breakpoint tables and ranges, never expressions.
Not here: nature (``science``) and decisions (``plan``).
Start with ``sources.py``.
"""
