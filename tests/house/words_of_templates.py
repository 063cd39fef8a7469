"""What a template says outside its translate tags, for `test_words.py`."""

from __future__ import annotations

import re
from collections.abc import Iterator

from django.template.base import Lexer, Token, TokenType

# Attributes that people read or hear.
SAID_IN = r'\b(?:alt|title|placeholder|aria-label|data-label|data-said[\w-]*|summary)="([^"]*)"'
# The same in every language: units, kinds of files, marks of no word.
NO_WORDS = {"ft", "ft²", "m", "lb", "in", "min", "px", "MB", "PDF", "ZIP", "CSV", "JPEG", "API"} | {
    "English",
    "Español",
}


def words_outside(text: str) -> list[str]:
    """Return each piece of a template's text that stands in no translate tag."""
    whole = "".join(_outside(text))
    found = re.findall(SAID_IN, whole)
    bare = re.sub(r"<!--.*?-->|<!doctype[^>]*>|<[^<>]*>", "\n", whole, flags=re.S | re.I)
    # A template may be no more than the attributes of a tag.
    bare = re.sub(r"&#?\w+;|\b[\w-]+=\"[^\"]*\"", " ", bare)
    pieces = [" ".join(line.split()) for line in [*bare.split("\n"), *found]]
    return [piece for piece in pieces if _says_something(piece)]


def _says_something(piece: str) -> bool:
    return any(word not in NO_WORDS for word in re.findall(r"[^\W\d_]{2,}[²]?", piece))


def _outside(text: str) -> Iterator[str]:
    """Yield the text as it is; tags and variables as nothing, so that markup stays whole."""
    skipping: str | None = None
    for token in Lexer(text).tokenize():
        word = token.contents.split()[0] if token.token_type == TokenType.BLOCK else ""
        if skipping:
            skipping = None if word == skipping else skipping
        elif word in ("blocktranslate", "comment", "verbatim"):
            skipping = f"end{word}"
        elif word == "block" and token.contents.endswith("_class"):
            skipping = "endblock"  # names of the stylesheet
        elif token.token_type == TokenType.TEXT:
            yield _without_addresses(token)
        else:
            yield from _in_tag(token.contents)


def _in_tag(contents: str) -> Iterator[str]:
    """What a tag itself says: a word where there is none, a day in English order."""
    for word in re.findall(r'\|default(?:_if_none)?:"([^"]+)"|\bwith \w*words="', contents):
        yield f"\n{word}\n"
    for form in re.findall(r'\|(?:date|time):"([^"]*[FMDlA][^"]*)"', contents):
        yield f'\n|date:_("{form}")\n'


def _without_addresses(token: Token) -> str:
    """A drawing's fonts and a page's addresses are no words."""
    return re.sub(r'\b(?:font-family|href|src|action|content)="[^"]*"', "", token.contents)
