"""Keepfast: fluid-preserved reptiles and amphibians, from the camp table to the shelf.

The rooms, from nature to screens: ``science`` (nature), ``rules`` (what people decided), ``plan`` (decisions
built on both), ``book`` (the meaning of the record), ``store`` (SQL), ``exchange`` (formats in and out),
``paper`` (pages in millimetres), ``desk`` (what a person asks of a book), ``live`` (the screens at the table),
``cli`` (the commands) and ``demo`` (an invented trip). Start with the first lines of each room.
"""

__version__ = "0.1.0"
