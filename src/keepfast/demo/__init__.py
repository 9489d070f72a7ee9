"""An invented spring survey, for trying everything out. No person, place name or number in it is real.

``survey.csv`` is the list of eighteen animals, ``camp.toml`` the camp, ``logger.csv`` two days of temperatures at the
trays, ``walk.gpx`` the morning's waypoints and track. The species are those of south-western Iberia.
"""

from __future__ import annotations

from pathlib import Path

FOLDER = Path(__file__).parent
FILES = ("survey.csv", "camp.toml", "logger.csv", "walk.gpx")


def contents() -> dict[str, bytes]:
    """The files of the demo trip by name."""
    return {name: (FOLDER / name).read_bytes() for name in FILES}
