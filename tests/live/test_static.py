"""What the pages are made of: nothing fetched from outside, nothing without its licence, type large enough."""

from __future__ import annotations

import hashlib
import re
import tomllib
from pathlib import Path

import pytest

from keepfast.live.words import STATIC

ROOT = Path(__file__).parents[2]
TEMPLATES = STATIC.parent / "templates"
VENDOR = ROOT / "tests" / "browser" / "vendor"
# The name of the SVG namespace looks like an address and is never fetched.
NAMESPACE = "http://www.w3.org/2000/svg"


def test_nothing_is_fetched_from_outside() -> None:
    for path in [*STATIC.rglob("*"), *TEMPLATES.rglob("*")]:
        if path.suffix not in (".js", ".css", ".html", ".svg"):
            continue
        text = path.read_text(encoding="utf-8").replace(NAMESPACE, "")
        assert not re.search(r"https?://|[\"'(]//\w|@import", text), path.name
        if path.suffix == ".js":
            imports = re.findall(r'from "([^"]+)"', text)
            assert all((STATIC / one).is_file() for one in imports), (path.name, imports)
            assert not re.search(r"\beval\(|new Function|innerHTML|outerHTML|insertAdjacentHTML|document\.write", text)


def test_the_fonts_stand_with_their_licence() -> None:
    assert (STATIC / "fonts" / "OFL.txt").read_text(encoding="utf-8").count("SIL OPEN FONT LICENSE") >= 1
    for font in (STATIC / "fonts").glob("*.woff2"):
        assert b"wOF2" == font.read_bytes()[:4]


def test_vendored_files_are_what_they_say_and_carry_their_licence() -> None:
    listed = tomllib.loads((VENDOR / "vendor.toml").read_text(encoding="utf-8"))["file"]
    for one in listed:
        assert one["sha256"] == hashlib.sha256((VENDOR / one["path"]).read_bytes()).hexdigest()
        assert (VENDOR / one["licence_file"]).stat().st_size > 500
    there = {p.relative_to(VENDOR).as_posix() for p in VENDOR.rglob("*") if p.is_file()}
    assert there == {one["path"] for one in listed} | {
        one[part] for one in listed for part in ("licence_file", "notices_file")
    } | {"vendor.toml"}


def luminance(colour: str) -> float:
    """Relative luminance of WCAG 2.2, its definition of that name."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def grounds() -> dict[str, dict[str, str]]:
    css = (STATIC / "face.css").read_text(encoding="utf-8")
    found = {}
    for name, selector in (
        ("day", r":root"),
        ("dusk", r':root\[data-ground="dusk"\]'),
        ("red", r':root\[data-ground="red"\]'),
    ):
        block = re.search(rf"(?m)^{selector} \{{(.*?)\}}", css, re.DOTALL)
        assert block is not None
        found[name] = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6}|\d+px);", block[1]))
    return found


def test_the_formula_gives_the_known_contrasts() -> None:
    """Black on white is 21 to 1 and #767676 on white 4.54 to 1 (WCAG 2.2, understanding 1.4.3)."""
    assert pytest.approx(21.0, abs=0.01) == contrast("#000000", "#ffffff")
    assert pytest.approx(4.54, abs=0.01) == contrast("#767676", "#ffffff")


@pytest.mark.parametrize(("ground", "least", "type_px"), [("day", 7.0, 18), ("dusk", 7.0, 18), ("red", 5.0, 21)])
def test_every_ground_has_its_contrast_and_its_size_of_type(ground: str, least: float, type_px: int) -> None:
    colours = {**grounds()["day"], **grounds()[ground]}
    for ink in ("ink", "quiet", "rule", "accent"):
        assert least <= contrast(colours[ink], colours["ground"]), ink
    assert least <= contrast(colours["on-accent"], colours["accent"])
    assert type_px <= int(colours["base"][:-2])


def test_no_type_is_smaller_than_the_base() -> None:
    css = (STATIC / "face.css").read_text(encoding="utf-8")
    for size in re.findall(r"font-size: ([\d.]+)rem", css):
        assert float(size) >= 1.0
    for least in re.findall(r"font-size: clamp\(([\d.]+)rem", css):
        assert float(least) >= 1.0


def test_no_colour_is_named_outside_of_the_grounds() -> None:
    """So nothing can be told by a colour: there is ink, ground, and one accent."""
    css = (STATIC / "face.css").read_text(encoding="utf-8")
    body = css[css.index("* { box-sizing") :]
    assert {"#ffffff", "#ff0000"} >= set(re.findall(r"#[0-9a-fA-F]{3,8}\b", body))  # the symbol's own white
