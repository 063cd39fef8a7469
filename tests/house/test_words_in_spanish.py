"""One word for one thing in the Spanish of the service, as its glossary has it."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from showrun.project.words import BOOKS, read
from tests.house.tree import ROOT

GLOSSARY = [
    # the English word, the Spanish word for it, the word it must not be called by
    (r"\b[Aa] score is (not|never)", r"[Uu]n puntaje", r"[Uu]na calificación"),
    (r"\bscore only\b", r"puntaje", r"calificación"),
    (r"\bposting\b", r"[Aa]siento", r"[Mm]ovimiento"),
    (r"\bshut out\b", r"bloque", r"exclu"),
    (r"middle of the class|(with|above|below) the middle|middle \{", r"[Mm]ediana", r"punto medio"),
    (r"\bsingletree\b", r"balancín", r"volea"),
    (r"\bevener\b", r"volea", r"balancín"),
    (r"\bhames?\b", r"horcate", r"palote"),
    (r"\b[Bb]ridle\b", r"[Bb]rida", r"[Ff]reno"),
    (r"\bwaits? to be sent\b", r"enviar", r"espera a enviarse"),
]


def sayings() -> Iterator[tuple[str, str]]:
    """Every translated sentence with what it says in Spanish."""
    for book in BOOKS:
        for message in read(ROOT, book, "es"):
            said, told = (
                (one,) if isinstance(one, str) else tuple(one or ())
                for one in (message.id, message.string)
            )
            yield from (pair for pair in zip(said, told, strict=False) if all(pair))


@pytest.mark.parametrize(("english", "spanish", "never"), GLOSSARY)
def test_one_thing_has_one_word(english: str, spanish: str, never: str) -> None:
    met = [told for said, told in sayings() if re.search(english, said)]
    assert met, "no sentence says it any more: take the line out"
    assert [told for told in met if not re.search(spanish, told) or re.search(never, told)] == []


def test_places_won_are_not_places_to_have() -> None:
    places = {
        (message.context, message.string)
        for book in BOOKS
        for message in read(ROOT, book, "es")
        if message.id == "Places"
    }
    assert places == {(None, "Cupos"), ("results", "Lugares")}
