"""The data that tells a body form and a mass relation from a name, and a slip from an animal."""

from __future__ import annotations

from collections import Counter

import pytest

from keepfast.rules import groups, sources
from keepfast.science import mass, tables
from keepfast.terms import FORMS


def genera() -> dict[str, list[str]]:
    return {entry["family"]: entry["genera"] for entry in sources.read("groups", "genera").data["families"]}


def test_no_genus_stands_in_two_families() -> None:
    counts = Counter(genus.casefold() for listed in genera().values() for genus in listed)
    assert {} == {genus: count for genus, count in counts.items() if count > 1}


def test_every_family_has_a_form_and_a_group_that_was_published() -> None:
    published = {row["group"] for row in tables.load("feldman-2016-lizard-group-mass").rows}
    data = sources.read("groups", "genera").data
    for entry in data["families"]:
        assert entry["form"] in FORMS
        assert entry.get("group") in published | {None}
    for entry in data["species"]:
        assert {entry["form"], entry["apart_form"]} <= set(FORMS)
        assert {entry["group"], entry["apart_group"]} <= published


def test_every_group_gives_a_mass_for_its_form() -> None:
    for entry in sources.read("groups", "genera").data["families"]:
        if entry.get("group"):
            estimate = mass.mass_from_length(entry["form"], 70.0, entry["group"])
            assert 0 < estimate.low < estimate.median < estimate.high


@pytest.mark.parametrize(
    ("taxon", "form"),
    [
        # Forms of well-known animals, common knowledge of the trade.
        ("Timon lepidus", "lizard"),
        ("Anguis fragilis", "legless_lizard"),
        ("Vipera latastei", "snake"),
        ("Blanus cinereus", "amphisbaenian"),
        ("Mauremys leprosa", "turtle"),
        ("Osteolaemus tetraspis", "crocodilian"),
        ("Bufo spinosus", "frog"),
        ("Salamandra salamandra", "salamander"),
        ("Ichthyophis glutinosus", "caecilian"),
        ("cf. Podarcis sp.", "lizard"),
    ],
)
def test_a_name_tells_the_form(taxon: str, form: str) -> None:
    answer = groups.belonging(taxon)
    assert answer
    assert form == answer.form


def test_a_name_that_is_not_listed_tells_nothing() -> None:
    assert groups.belonging("Draconis ignifer") is None
    assert groups.belonging("") is None


def test_the_largest_animals_that_live_are_within_the_limits() -> None:
    # Sizes of record animals as handbooks give them, from memory, unverified: a leatherback of about 900 kg, a
    # reticulated python near 10 m, a Komodo dragon near 170 kg at most when full, a goliath frog of 320 mm, a Chinese
    # giant salamander of 1.8 m, a saltwater crocodile of 6 m and about 1,000 kg.
    for form, name, value in (
        ("turtle", "mass_g", 900_000),
        ("snake", "length_mm", 10_000),
        ("lizard", "mass_g", 100_000),
        ("frog", "length_mm", 320),
        ("salamander", "length_mm", 1_800),
        ("crocodilian", "mass_g", 1_000_000),
    ):
        low, high = groups.limits(form)[name]
        assert low < value < high
        # A misplaced decimal mark in a common animal stays a doubt about mass and length, and does not stop the list.
        assert low < 45 < 450 < high


def test_every_form_has_limits() -> None:
    for form in FORMS:
        assert {"length_mm", "tail_mm", "mass_g", "diameter_mm", "head_width_mm", "kept_at_c", "count"} <= set(
            groups.limits(form)
        )


@pytest.mark.parametrize(
    ("taxon", "expected"),
    [
        ("vipera latastei", ("Vipera", True)),
        ("Natrix cf. helvetica", ("Natrix", True)),
        ("cf. Natrix", ("Natrix", False)),
        ("Natrix? maura", ("Natrix", False)),
        ("  ", ("", False)),
        ("?", ("", False)),
    ],
)
def test_the_genus_is_read_with_its_doubt(taxon: str, expected: tuple[str, bool]) -> None:
    assert expected == groups.genus_of(taxon)
