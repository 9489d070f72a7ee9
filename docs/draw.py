"""Draws the README's picture again from the demo: the table's sheet and one animal's card, as printed.

Run with ``.venv/bin/python docs/draw.py`` in the environment of the tests.
"""

from __future__ import annotations

import io
import sys
import tempfile
from pathlib import Path

FOLDER = Path(__file__).parent / "pictures"
DPI = 110
GAP = 24  # pixels between and around the pages


def pages(raw: bytes) -> list[object]:
    """The pages of a PDF as grey pictures."""
    import pypdfium2

    document = pypdfium2.PdfDocument(io.BytesIO(raw))
    return [page.render(scale=DPI / 72).to_pil().convert("L") for page in document]


def evening() -> bytes:
    """Two pages side by side on grey, as PNG."""
    from PIL import Image

    from keepfast import demo
    from keepfast.cli.planning import prepare

    with tempfile.TemporaryDirectory() as folder:
        for name, content in demo.contents().items():
            (Path(folder) / name).write_bytes(content)
        _, files = prepare(
            Path(folder) / "survey.csv", Path(folder) / "camp.toml", start="2026-04-18T18:00", papers=True
        )
    shown = [pages(files["table.pdf"])[0], pages(files["cards.pdf"])[0]]
    width = sum(page.width for page in shown) + GAP * (len(shown) + 1)  # type: ignore[attr-defined]
    height = max(page.height for page in shown) + 2 * GAP  # type: ignore[attr-defined]
    picture = Image.new("L", (width, height), 200)
    left = GAP
    for page in shown:
        picture.paste(page, (left, GAP))  # type: ignore[arg-type]
        left += page.width + GAP  # type: ignore[attr-defined]
    # Sixteen greys are enough for print and keep the file small.
    out = io.BytesIO()
    picture.quantize(16).save(out, "PNG", optimize=True)
    return out.getvalue()


def main() -> int:
    """Write the pictures."""
    FOLDER.mkdir(exist_ok=True)
    (FOLDER / "evening.png").write_bytes(evening())
    print("docs/pictures/evening.png")
    return 0


if __name__ == "__main__":
    sys.exit(main())
