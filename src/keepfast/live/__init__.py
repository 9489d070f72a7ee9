"""The live screens at the table: pages, stream, outbox script, static files. Everything it knows comes from ``desk``.

Here: who may come in (``pairing.py``, ``guard.py``), the pages (``pages.py``), what devices send and hear (``app.py``,
``writer.py``, ``feed.py``), starting it (``server.py``).
Not here: what an entry means (``desk/table_entries.py``), what the table shows (``desk/table_views.py``).
Start with ``app.py``; for the screens themselves with ``static/outbox.js``, ``known.js`` and ``page.js``.
"""
