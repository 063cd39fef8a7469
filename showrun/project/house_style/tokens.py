"""The tokens as the stylesheets set them, and every pair of colours with what it must reach.

Nothing is written down twice: colours, spaces and sizes are read from the files that the pages
are served with.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from django.contrib.staticfiles import finders

from showrun.shows.rules.contrast import BORDER_RATIO, SUN_RATIO, TEXT_RATIO, contrast, mixed

STYLE = "show/style.css"
ROUND = "judging/offline/round.css"
THEMES = ("light", "dark", "sun")
# How the stylesheet begins the block of each theme; what a block leaves out is as in light.
BEGINS = {
    "light": ":root {",
    "dark": "@media (prefers-color-scheme: dark) {\n  :root {",
    "sun": ':root[data-light="sun"] {',
}
_SET = re.compile(r"--([a-z0-9-]+):\s*([^;{}]+);")
_COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)
# As `.say` tints its ground.
TINT_SHARE = 0.09


def sheet_text(name: str) -> str:
    """Return a stylesheet as it is served, without its comments."""
    found = finders.find(name)
    if not found:
        raise FileNotFoundError(name)
    return _COMMENT.sub("", Path(found).read_text(encoding="utf-8"))


def tokens_after(text: str, begins: str) -> dict[str, str]:
    """Return the tokens of the block that begins so, in their order."""
    start = text.index(begins) + len(begins)
    return {
        name: value.strip() for name, value in _SET.findall(text[start : text.index("}", start)])
    }


@cache
def tokens_of(theme: str) -> dict[str, str]:
    """Return every token as it stands in a theme."""
    text = sheet_text(STYLE)
    return tokens_after(text, BEGINS["light"]) | tokens_after(text, BEGINS[theme])


@dataclass(frozen=True)
class Pair:
    """Two colours that meet on a page; a tinted ground is `bad tint`."""

    front: str
    ground: str
    used_for: str
    border: bool = False


def _pairs() -> Iterator[Pair]:
    words = {
        "ink": "Text",
        "ink-soft": "Hints, captions, names of facts",
        "oxide": "Links, quiet buttons",
        "oxide-deep": "Links under the pointer",
        "good": "State: good",
        "warn": "State: waits",
        "bad": "State: bad, faults, buttons that stop",
        "ask": "State: asks",
    }
    for ground in ("paper", "sheet"):
        for front, used_for in words.items():
            yield Pair(front, ground, used_for)
    yield Pair("on-oxide", "oxide", "Buttons")
    yield Pair("on-oxide", "oxide-deep", "Buttons under the pointer")
    yield Pair("sheet", "ink", "The tab or key that is chosen")
    yield Pair("sheet", "ink-soft", "A phone's frame")
    yield Pair("sheet", "good", "A step that is done")
    yield Pair("sheet", "bad", "Alarm; a button that stops, under the pointer")
    for tone in ("good", "warn", "bad", "ask"):
        for front in ("ink", "ink-soft", "oxide", tone):
            yield Pair(front, f"{tone} tint", "In a message")
    for front, used_for in {
        "edge": "Borders of fields, tabs, meters",
        "oxide": "Border of what is chosen",
        "bad": "Border of a field at fault",
        "good": "Border of a message",
        "warn": "Border of a message",
        "ask": "Ring around what has the focus",
        "sage": "Meters",
    }.items():
        for ground in ("paper", "sheet"):
            yield Pair(front, ground, used_for, border=True)


PAIRS = tuple(_pairs())


@dataclass(frozen=True)
class Measured:
    """A pair in one theme, with its contrast and what it must reach at least."""

    pair: Pair
    front: str
    ground: str
    ratio: float
    wanted: float

    @property
    def reaches(self) -> bool:
        """Whether the pair stands out enough; nothing is rounded up."""
        return self.ratio >= self.wanted


def color_of(name: str, tokens: dict[str, str]) -> str:
    """Return a token's colour, or the tinted ground that a message makes of it."""
    tone, _, tint = name.partition(" ")
    return mixed(tokens[tone], TINT_SHARE, tokens["sheet"]) if tint else tokens[tone]


def measured(pair: Pair, theme: str, tokens: dict[str, str] | None = None) -> Measured:
    """Measure a pair in a theme, by its tokens or by others."""
    here = tokens_of(theme) if tokens is None else tokens
    front, ground = color_of(pair.front, here), color_of(pair.ground, here)
    wanted = BORDER_RATIO if pair.border else SUN_RATIO if theme == "sun" else TEXT_RATIO
    return Measured(pair, front, ground, contrast(front, ground), wanted)
