"""Pages of papers as grey pictures, and how far two of them are apart."""

from __future__ import annotations

import os
import subprocess
from io import BytesIO
from pathlib import Path

from PIL import Image, ImageChops

# Whether the pages as they are drawn now are the ones to be held against from now on.
REDRAW = bool(os.environ.get("SHOWRUN_REDRAW_PAGES"))
DOTS_PER_INCH = 50
# Of two pages laid on each other: what a word moved or a missing line makes, and what another
# version of the layout engine does at the edges of letters.
SHADES_APART = 48
MOST_PIXELS = 0.002


def pages_of(data: bytes, folder: Path, most: int) -> list[Image.Image]:
    """Draw the first pages of a PDF as grey pictures."""
    sheet = folder / "sheet.pdf"
    sheet.write_bytes(data)
    asked = ["-r", str(DOTS_PER_INCH), "-gray", "-png", "-l", str(most)]
    subprocess.run(["pdftoppm", *asked, str(sheet), str(folder / "page")], check=True, timeout=60)
    found = sorted(folder.glob("page-*.png"))
    pages = [Image.open(BytesIO(page.read_bytes())).convert("L") for page in found]
    for page in found:
        page.unlink()
    return pages


def share_apart(one: Image.Image, other: Image.Image) -> float:
    """Return the share of a page that differs, seen from half as near again."""
    if one.size != other.size:
        return 1.0
    size = (one.width // 2, one.height // 2)
    near = [page.resize(size, Image.Resampling.BOX) for page in (one, other)]
    apart = ImageChops.difference(*near).point(lambda shade: 255 * (shade > SHADES_APART))
    return apart.histogram()[255] / (size[0] * size[1])
