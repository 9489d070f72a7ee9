"""Nature: what fluids, bodies, air, sun and places do.

Here: one module per subject (``alcohol``, ``formalin``, ``bath``, ``penetration``, ``decay``, ``body``, ``air``,
``sun``, ``place``), arrays in and arrays out, and ``tables/`` with the published numbers they stand on.
Not here: clocks, records, rules of practice, files, screens.
Start with ``body`` for the animals and ``tables`` for how a published number is kept with its source.
"""
