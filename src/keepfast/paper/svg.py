"""Pages to SVG: one picture, millimetres as its unit, fonts inside, text left as text.

Ink is ``currentColor`` and ground ``var(--ground, white)``, so that a screen may turn the whole drawing round for the
night without knowing anything about it.
"""

from __future__ import annotations

import base64
from functools import cache
from xml.sax.saxutils import escape, quoteattr

from keepfast.paper import type as type_
from keepfast.paper.page import Page, Path, Ring, Text

FAMILY = {
    "regular": ("Keepfast Next", "400", "normal"),
    "bold": ("Keepfast Next", "700", "normal"),
    "italic": ("Keepfast Next", "400", "italic"),
    "mono": ("Keepfast Mono", "400", "normal"),
    "mono_bold": ("Keepfast Mono", "700", "normal"),
}


def font_face(face: str, source: str) -> str:
    """One CSS rule that gives a face its font from an address; a page that draws many pictures says it once."""
    family, weight, style = FAMILY[face]
    return (
        f'@font-face{{font-family:"{family}";font-weight:{weight};font-style:{style};'
        f'src:url("{source}") format("truetype")}}'
    )


@cache
def _inside(face: str) -> str:
    raw = (type_.FONT_FOLDER / type_.FILES[face]).read_bytes()
    return font_face(face, "data:font/ttf;base64," + base64.b64encode(raw).decode("ascii"))


def _n(value: float) -> str:
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _ink(fill: float | None) -> str:
    if fill is None:
        return "none"
    if fill == 0:
        return "var(--ground, white)"
    return "currentColor"


def _painted(fill: float | None, width_mm: float, dash: tuple[float, ...] = ()) -> str:
    parts = [f'fill="{_ink(fill)}"']
    if fill is not None and 0 < fill < 1:
        parts.append(f'fill-opacity="{_n(fill)}"')
    if width_mm > 0:
        parts.append(f'stroke="currentColor" stroke-width="{_n(width_mm)}"')
        if dash:
            parts.append(f'stroke-dasharray="{" ".join(_n(d) for d in dash)}"')
    return " ".join(parts)


def render(page: Page, *, fonts: bool = True, standalone: bool = True, about: str = "") -> str:
    """
    The page as one SVG picture.

    Parameters
    ----------
    fonts : bool, default True
        Put the fonts it uses inside. A web page that serves the family itself leaves them out.
    standalone : bool, default True
        Draw the white ground and set the ink to black; a screen that sets its own leaves it out.
    about : str, optional
        Where it comes from (version, inputs, seed), kept inside as its description.
    """
    used = sorted({item.face for item in page.items if isinstance(item, Text)})
    label = page.title or page.card
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_n(page.width_mm)}mm" height="{_n(page.height_mm)}mm" '
        f'viewBox="0 0 {_n(page.width_mm)} {_n(page.height_mm)}" role="img"'
        + (f" aria-label={quoteattr(label)}" if label else "")
        + (' style="color:black;background:white"' if standalone else "")
        + ">"
    ]
    if label:
        out.append(f"<title>{escape(label)}</title>")
    if about:
        out.append(f"<desc>{escape(about)}</desc>")
    if fonts and used:
        out.append("<style>" + "".join(_inside(face) for face in used) + "</style>")
    out.append(
        '<g stroke-linejoin="round" style="font-kerning:none;font-variant-ligatures:none;'
        'font-variant-numeric:tabular-nums" fill="currentColor">'
    )
    for item in page.items:
        if isinstance(item, Text):
            family, weight, style = FAMILY[item.face]
            x, y = _n(item.x), _n(item.y)
            out.append(
                f'<text x="{x}" y="{y}" font-family="{family}, sans-serif" font-weight="{weight}"'
                + (' font-style="italic"' if style == "italic" else "")
                + f' font-size="{_n(item.size_pt * type_.MM_PER_POINT)}"'
                + (f' text-anchor="{item.anchor}"' if item.anchor != "start" else "")
                + (f' transform="rotate({_n(item.turn)} {x} {y})"' if item.turn else "")
                + f' xml:space="preserve">{escape(item.words)}</text>'
            )
        elif isinstance(item, Path):
            points = " L".join(f"{_n(x)} {_n(y)}" for x, y in item.points)
            end = "Z" if item.closed else ""
            out.append(f'<path d="M{points}{end}" {_painted(item.fill, item.width_mm, item.dash)}/>')
        elif isinstance(item, Ring):
            out.append(
                f'<circle cx="{_n(item.x)}" cy="{_n(item.y)}" r="{_n(item.radius_mm)}" '
                f"{_painted(item.fill, item.width_mm)}/>"
            )
        else:
            path = "".join(f"M{_n(x)} {_n(y)}h{_n(w)}v{_n(h)}h{_n(-w)}z" for x, y, w, h in item.boxes)
            out.append(f'<path d="{path}" fill="currentColor" shape-rendering="crispEdges"/>')
    out.append("</g></svg>")
    return "\n".join(out) + "\n"
