"""A page in millimetres and what is drawn on it: bodies, trays, cards, tags, labels, charts.

Here: ``page`` (the page, its type and ink), drawings, and the two outputs SVG and PDF behind it. One file knows the
PDF library, one the symbol library.
Not here: any number that is not a place on paper.
Start with ``page.py``.
"""
