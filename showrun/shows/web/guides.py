"""The guides as pages: the Markdown of `showrun/guides`, drawn with raw HTML off."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.http import require_safe
from markdown_it import MarkdownIt
from markdown_it.token import Token

from showrun.errors import NotFound
from showrun.language import gettext as _

FOLDER = Path(__file__).resolve().parents[2] / "guides"
STATIC = "../project/static/"  # where the guides' pictures lie, seen from the guides
# In the order in which they are read; what is not here is no page.
NAMES = (
    "office",
    "judge",
    "exhibitor",
    "rules_to_software",
    "statistics",
    "glossary",
    "changelog",
)


@dataclass(frozen=True)
class Guide:
    """A guide as its page shows it; `lede` is its first paragraph, without marks."""

    name: str
    title: str
    lede: str
    body: SafeString


def anchor_of(words: str) -> str:
    """Make the anchor of a heading inside its page."""
    return re.sub(r"[^a-z0-9]+", "-", words.lower()).strip("-")


def _aim(token: Token) -> None:
    """Let links lead to pages and pictures come from where the service keeps them."""
    if token.type == "image":
        token.attrSet("src", static(str(token.attrGet("src")).removeprefix(STATIC)))
        token.attrSet("loading", "lazy")
    elif token.type == "link_open":
        name, _dot, place = str(token.attrGet("href")).partition(".md")
        if name in NAMES:
            token.attrSet("href", reverse("shows:guide", args=[name]) + place)


def _dress(tokens: Sequence[Token]) -> list[Token]:
    """Give headings an address, and tables a frame that scrolls on a phone."""
    drawn: list[Token] = []
    for n, token in enumerate(tokens):
        for inner in token.children or []:
            _aim(inner)
        if token.type == "heading_open":
            token.attrSet("id", anchor_of(tokens[n + 1].content))
        if token.type == "table_open":
            token.attrSet("class", "ledger")
            drawn.append(
                _frame('<div class="scroll" role="region" aria-label="Table" tabindex="0">')
            )
        drawn.append(token)
        if token.type == "table_close":
            drawn.append(_frame("</div>"))
    return drawn


def _frame(written: str) -> Token:
    return Token("html_block", "", 0, content=written)


@cache
def read_guide(name: str) -> Guide:
    """Read a guide and draw it; each is drawn once in the life of a process."""
    reader = MarkdownIt("commonmark", {"html": False}).enable("table")
    tokens = reader.parse((FOLDER / f"{name}.md").read_text(encoding="utf-8"))
    said = [token for token in tokens if token.type == "inline"]
    lede = "".join(part.content or " " for part in said[1].children or [])
    body = reader.renderer.render(_dress(tokens), reader.options, {})
    # Raw HTML in the text is written out as text by the reader; the frames are ours.
    return Guide(name, said[0].content, lede, mark_safe(body))  # noqa: S308


@require_safe
def guides(request: HttpRequest) -> HttpResponse:
    """List the guides, those for people first."""
    return render(request, "shows/guides.html", {"guides": [read_guide(one) for one in NAMES]})


@require_safe
def guide(request: HttpRequest, guide_name: str) -> HttpResponse:
    """Show one guide."""
    if guide_name not in NAMES:
        raise NotFound(_("There is no guide of this name."))
    context = {
        "guide": read_guide(guide_name),
        "others": [read_guide(one) for one in NAMES if one != guide_name],
    }
    return render(request, "shows/guide.html", context)
