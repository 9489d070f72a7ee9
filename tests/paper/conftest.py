"""An evening to print, and eyes other than those that wrote the page: a renderer and a reader of its text."""

from __future__ import annotations

import datetime
import unicodedata
from dataclasses import replace
from importlib import resources
from pathlib import Path

import numpy as np
import pypdfium2
import pytest

from keepfast.exchange.camp import read_camp
from keepfast.exchange.files import origin
from keepfast.exchange.lists import read_list
from keepfast.plan.chapters import with_air
from keepfast.plan.evening import Rules, plan_evening

DEMO = Path(str(resources.files("keepfast.demo")))
START = datetime.datetime(2026, 4, 18, 18, tzinfo=datetime.timezone(datetime.timedelta(hours=2)))


@pytest.fixture(scope="session")
def evening():
    """The demo trip's evening: eighteen animals of nine forms, without the race."""
    listed = read_list(DEMO / "survey.csv", zone="Europe/Madrid")
    camp = read_camp(DEMO / "camp.toml").camp
    rules = Rules.load()
    plan = plan_evening(
        listed.animals, camp, rules, start=START, size=50, origin=origin({listed.name: listed.sha256}, 1)
    )
    return with_air(plan, camp, rules.evening, 1, 50)


@pytest.fixture(scope="session")
def with_taxon(evening):
    """The same evening with other words in the name of one animal."""

    def changed(number: str, taxon: str):
        animals = tuple(
            replace(one, animal=replace(one.animal, taxon=taxon)) if one.animal.field_number == number else one
            for one in evening.animals
        )
        return replace(evening, animals=animals)

    return changed


class Seen:
    """A PDF as PDFium, which had no part in writing it, sees it."""

    def __init__(self, raw: bytes) -> None:
        self.document = pypdfium2.PdfDocument(raw)

    def __len__(self) -> int:
        return len(self.document)

    def size_mm(self, number: int) -> tuple[float, float]:
        width, height = self.document[number].get_size()
        return width * 25.4 / 72, height * 25.4 / 72

    def grey(self, number: int, dpi: int) -> np.ndarray:
        return np.asarray(self.picture(number, dpi))

    def picture(self, number: int, dpi: int):
        return self.document[number].render(scale=dpi / 72, grayscale=True).to_pil()

    def words(self, number: int) -> str:
        return self.document[number].get_textpage().get_text_range()


@pytest.fixture(scope="session")
def seen():
    return Seen


def characters(text: str) -> str:
    """The characters of a text without any spaces, in one spelling: what must be the same on paper and in the page."""
    return "".join(unicodedata.normalize("NFC", text).replace("\ufffe", "-").split()).replace("\u00ad", "-")


@pytest.fixture(scope="session")
def same_letters():
    return characters


def dark_extent_mm(grey: np.ndarray, dpi: int, box_mm: tuple[float, float, float, float]) -> tuple[float, float]:
    """Left and right end of what is darker than half, inside a box (left, top, right, bottom). [mm]"""
    scale = dpi / 25.4
    left, top, right, bottom = (round(v * scale) for v in box_mm)
    columns = np.flatnonzero((grey[top:bottom, left:right] < 128).any(axis=0))
    return (left + columns[0]) / scale, (left + columns[-1] + 1) / scale


@pytest.fixture(scope="session")
def extent():
    return dark_extent_mm
