"""Protocols are data: they can be copied and edited, and a slip in them is said with its place and its mend."""

from __future__ import annotations

from pathlib import Path

import pytest

from keepfast.findings import FindingsError
from keepfast.rules import protocols
from keepfast.rules.tables import holds, step_at, value_at
from keepfast.terms import FORMS


def test_every_body_form_has_a_protocol_and_every_rule_a_source() -> None:
    """Loading checks each rule's source; here only the forms are compared with the record's."""
    assert set(protocols.load().by_form) == set(FORMS)


def test_a_museum_replaces_one_form_with_its_own_file(tmp_path: Path) -> None:
    """The other forms stay as shipped, and the identity changes."""
    text = (protocols.FOLDER / "lizard.toml").read_text(encoding="utf-8")
    own = tmp_path / "our-lizards.toml"
    own.write_text(text.replace("date = 2026-03-01", "date = 2026-05-02"), encoding="utf-8")
    shipped, changed = protocols.load(), protocols.load(own)
    assert changed.by_form["lizard"].date == "2026-05-02"
    assert changed.by_form["frog"] == shipped.by_form["frog"]
    assert changed.identity["sha256"] != shipped.identity["sha256"]
    assert changed.identity["date"] == "2026-05-02"


def test_a_folder_with_its_own_shared_rules_is_taken_as_a_whole(tmp_path: Path) -> None:
    """A copied folder reads the same as what ships."""
    for file in protocols.FOLDER.glob("*.toml"):
        (tmp_path / file.name).write_bytes(file.read_bytes())
    assert protocols.load(tmp_path).by_form["snake"].fills == protocols.load().by_form["snake"].fills


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('source = "practice"', 'source = "nobody"', "every rule names its source"),
        ("share = 0.45", "share = 0.45\nml = [[1, 2]]", "either a share of the total or a table"),
        ("[[16, 0.1], [25, 0.4], [40, 1.2]]", "[[16, 0.1], [25, 0.05]]", "must never fall"),
        ("[[16, 0.1], [25, 0.4], [40, 1.2]]", "[[16, 0.1], [12, 0.5]]", "must rise"),
        ('kind = "row"', 'kind = "line"', "word is not known"),
        ("{ mass_g = { from = 15 } }", "{ weight = { from = 15 } }", "cannot be asked"),
        ("depth_share = 0.6", "deep_share = 0.6", "key means nothing"),
        ("at = 0.93", "at = 93", "a place is a share"),
        ("date = 2026-03-01", 'date = "March"', "date it was decided"),
        ("{ mass_g = { from = 15 } }", '{ mass_g = { from = "15" } }', "cannot be asked"),
        ("[[16, 0.1], [25, 0.4], [40, 1.2]]", "[[16, 0.1], [25, nan]]", "pair of numbers"),
        ("width = { length = 1.95 }", "width = { length = 0 }", "takes some room"),
        ('genera = ["Heloderma"]', "genera = 3", "a list of names"),
        ('form = "lizard"', 'form = "lizard"\nsupply = 3', "this is a table"),
        ('form = "lizard"', 'form = "lizard"\nno_needle = 3', "this is a list of rules"),
        ('source = "practice"', "source = []", "every rule names its source"),
        ("low = 0.75", "low = 0", "a number from 0.01"),
    ],
)
def test_a_slip_in_a_protocol_is_said_with_file_and_place(tmp_path: Path, old: str, new: str, said: str) -> None:
    """Each message names the file, the key and the mend."""
    text = (protocols.FOLDER / "lizard.toml").read_text(encoding="utf-8")
    assert old in text
    own = tmp_path / "ours.toml"
    own.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(FindingsError) as caught:
        protocols.load(own)
    assert any(said in f.what for f in caught.value.findings)
    assert all("ours.toml" in f.file and f.field for f in caught.value.findings)


def test_several_slips_are_said_at_once(tmp_path: Path) -> None:
    """Nobody mends a file one error at a time."""
    text = (protocols.FOLDER / "frog.toml").read_text(encoding="utf-8")
    own = tmp_path / "frog.toml"
    own.write_text(text.replace("share = 0.5", 'share = "half"').replace("depth_share", "deep"), encoding="utf-8")
    with pytest.raises(FindingsError) as caught:
        protocols.load(own)
    assert len(caught.value.findings) > 3


def test_breakpoints_run_straight_and_end_as_said() -> None:
    """Between the points straight, beyond them flat or in proportion."""
    points = ((5.0, 1.0), (15.0, 2.0))
    assert value_at(points, 10.0) == 1.5
    assert value_at(points, 1.0) == 1.0
    assert value_at(points, 30.0) == 2.0
    assert value_at(points, 1.0, "proportional") == pytest.approx(0.2)
    assert value_at(points, 30.0, "proportional") == pytest.approx(4.0)
    assert step_at(((0.0, 29.0), (5.0, 26.0)), 5.0) == 26.0


def test_a_condition_holds_by_alternatives_and_fails_on_what_nobody_knows() -> None:
    """Alternatives are or, entries of one alternative are and."""
    condition = ({"mass_g": {"from": 10}}, {"sex": ["female"], "venomous": True})
    assert holds((), {})
    assert holds(condition, {"mass_g": 10.0})
    assert not holds(condition, {"mass_g": 9.9, "sex": "female", "venomous": None})
    assert holds(condition, {"mass_g": None, "sex": "female", "venomous": True})


def test_what_other_sources_say_of_all_forms_stands_beside_what_they_say_of_one() -> None:
    """A form's own note on its sources takes none of the shared ones away."""
    by_form = protocols.load().by_form
    shared = {s.topic for s in by_form["turtle"].spreads}
    assert {"order of work", "freezing", "when to start"} <= shared
    for form in ("lizard", "snake", "frog", "salamander"):
        assert shared < {s.topic for s in by_form[form].spreads}


def test_two_files_of_one_form_in_a_folder_are_refused(tmp_path: Path) -> None:
    """Which of them would count, nobody could say; what else is wrong in the folder is said with it."""
    text = (protocols.FOLDER / "frog.toml").read_text(encoding="utf-8")
    for name in ("frog.toml", "our-frogs.toml"):
        (tmp_path / name).write_text(text, encoding="utf-8")
    (tmp_path / "torn.toml").write_text("title =", encoding="utf-8")
    with pytest.raises(FindingsError) as caught:
        protocols.load(tmp_path)
    assert [Path(f.file or "").name for f in caught.value.findings] == ["our-frogs.toml", "torn.toml"]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("title =", "cover = 3\ntitle =", "this is a list of rules"),
        ("title =", "minutes = [1]\ntitle =", "this is a table"),
        ("[retained]\nlow = 0.6", "[retained]\nlow = 0.9", "must not fall"),
        ('key = "upper_sheet"', 'name = "upper_sheet"', "key means nothing here"),
        ("[supply]", "[suply]", "key means nothing here"),
    ],
)
def test_a_slip_in_shared_rules_of_ones_own_is_said(tmp_path: Path, old: str, new: str, said: str) -> None:
    """The shared file is read as carefully as a form's own, and nothing in it can crash the reading."""
    text = (protocols.FOLDER / "common.toml").read_text(encoding="utf-8")
    name = new.partition(" =")[0]
    if new.startswith(("cover", "minutes")):
        # The same name cannot stand twice in one file.
        kept = [part for part in text.split("\n[") if not part.startswith((f"[{name}]", f"{name}]"))]
        text = "\n[".join(kept)
    assert old in text
    (tmp_path / "common.toml").write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(FindingsError, match=said):
        protocols.load(tmp_path)


@pytest.mark.parametrize(
    ("old", "new"),
    [('follows = "row_hind"', 'follows = "row_of_nobody"'), ('follows = "row_hind"', 'follows = "row_along_trunk"')],
)
def test_a_row_follows_only_a_row_that_stands_before_it(tmp_path: Path, old: str, new: str) -> None:
    """Neither a row that is not there nor itself."""
    text = (protocols.FOLDER / "snake.toml").read_text(encoding="utf-8")
    (tmp_path / "snake.toml").write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(FindingsError, match="can only follow"):
        protocols.load(tmp_path / "snake.toml")


# What is common practice without a published source, by form and rule: each must be in the protocol and marked so.
PRACTICE = {
    "common": (
        "death_confirmed", "tag_tied", "life_photographs", "mouth_propped", "bladder_emptied", "eyes_and_arm",
        "firm_never_swollen", "gall_bladder", "pose_is_for_good", "upper_sheet", "no_pool", "cool_place", "day_in_tray",
        "decaying", "bloated",
    ),
    "lizard": (
        "sex_by_eversion", "forelimbs", "hindlimbs", "tail", "cavity_hind", "gonad", "mouth_broad_head",
        "largest_all_over", "tail_base", "long_tail",
    ),
    "snake": (
        "sex_by_eversion", "run_back", "slender_gonad", "row_hind", "row_along_trunk", "stout_gonad",
        "mouth_broad_head",
    ),
    "frog": ("small_frog", "gonad", "mouth_broad_head"),
    "salamander": ("small_salamander", "gonad", "mouth_broad_head"),
}  # fmt: skip


@pytest.mark.parametrize("form", PRACTICE)
def test_what_rests_on_practice_alone_is_in_the_protocol_and_marked_so(form: str) -> None:
    """Every rule of practice says that nobody published it."""
    one = protocols.load().by_form["lizard" if form == "common" else form]
    every = (
        *one.fitness, *one.before, *one.pricks, *one.no_needle, *one.fills, *one.filling, *one.poses, *one.posing,
        *one.covering, *one.tray,
    )  # fmt: skip
    by_key = {rule.key: rule for rule in every}
    for key in PRACTICE[form]:
        _words, known = one.sources[by_key[key].source]
        assert known == "common practice, no published source", key


@pytest.mark.parametrize("form", [form for form in FORMS if form not in ("larva", "egg_clutch")])
def test_the_filling_begins_where_decay_starts(form: str) -> None:
    """The hind gut's rule stands first in every protocol, and the gonads' next (common practice)."""
    fills = protocols.load().by_form[form].fills
    gonad = [rule.site for rule in fills].index("gonad")
    assert {rule.site for rule in fills[:gonad]} == {"hindgut"}
