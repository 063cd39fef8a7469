"""Places of a card file, such as `sections.2.criteria.0.step`, in words and as links."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeVar

from judging.models import Criterion, Scorecard, Section
from judging.queries.card_findings import CardFindings
from judging.rules.cards.check_card import Finding, Level
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_

_One = TypeVar("_One")
SHOWN = 40
FIELD_WORDS = {
    "applies": N_("judged on"),
    "max_mark": N_("most marks"),
    "one_of": N_("stands in for"),
    "quick_phrases": N_("quick phrases"),
    "all_or_nothing": N_("all or nothing"),
    "criteria": N_("rows"),
}
NUMBERED_WORDS = {
    "sections": N_("section {n}"),
    "criteria": N_("row {n}"),
    "parts": N_("part {n}"),
    "applies": N_("alternative {n}"),
}


@dataclass(frozen=True)
class Line:
    """A sentence about a place of the card, with what it is about and where that stands."""

    sentence: str
    about: str = ""
    section: Section | None = None
    row: Criterion | None = None
    stops: bool = True


@dataclass(frozen=True)
class Lines:
    """What is said of a card: what keeps it from being used, and what is worth a look."""

    stops: list[Line]
    warns: list[Line]
    more: int = 0


def lines_of(card: Scorecard, looked: CardFindings) -> Lines:
    """Return everything that is said of a card, each line beside what it is about."""
    faults = [on_card(card, place, text) for place, text in looked.faults.items()]
    lines = [_said(card, finding) for finding in looked.found]
    return Lines(
        stops=[*faults[:SHOWN], *(line for line in lines if line.stops)],
        warns=[line for line in lines if not line.stops],
        more=max(0, len(faults) - SHOWN),
    )


def of_class(card: Scorecard, found: list[Finding]) -> Lines:
    """Return what is said of one class."""
    lines = [_said(card, finding) for finding in found]
    stops = [line for line in lines if line.stops]
    return Lines(stops, [line for line in lines if not line.stops])


def _said(card: Scorecard, finding: Finding) -> Line:
    """A finding names what it is about in its sentence; the place makes the link."""
    line = on_card(card, finding.where, finding.sentence)
    return Line(line.sentence, "", line.section, line.row, finding.level is Level.STOPS)


def place_words(place: str) -> str:
    """Say where in a file a place is, counted as people count.

    Examples
    --------
    >>> place_words("sections.2.criteria.0.step")
    'section 3, row 1, step'
    >>> place_words("")
    'the whole card'
    """
    words: list[str] = []
    steps = place.split(".") if place else []
    for before, step in zip(["", *steps], steps, strict=False):
        if not step.isdigit():
            words.append(_field_words(step))
        elif before in NUMBERED_WORDS:
            words[-1] = _(NUMBERED_WORDS[before]).format(n=int(step) + 1)
        else:
            words[-1] = f"{words[-1]} {int(step) + 1}"
    return ", ".join(words) or _("the whole card")


def _field_words(name: str) -> str:
    """A field that has no words of its own is called as the file calls it."""
    return _(FIELD_WORDS[name]) if name in FIELD_WORDS else name.replace("_", " ")


def in_file(faults: Mapping[str, str]) -> list[tuple[str, str, str]]:
    """Return faults of a file as (place, the place in words, sentence)."""
    return [(place, place_words(place), sentence) for place, sentence in faults.items()]


def on_card(card: Scorecard, place: str, sentence: str, *, stops: bool = True) -> Line:
    """Return a sentence beside the section or row of a kept card that it is about."""
    sections = list(card.sections.all())
    steps = place.split(".")
    section = _at(sections, steps, 0, "sections")
    row = _at(list(section.criteria.all()), steps, 2, "criteria") if section else None
    about = [str(one) for one in (section, row) if one]
    rest = steps[4:] if row else steps[2:] if section else steps
    if rest and rest[0] and not rest[0].isdigit() and rest != ["criteria"]:
        about.append(_field_words(rest[0]))
    return Line(sentence, ", ".join(about), section, row, stops)


def _at(there: list[_One], steps: list[str], at: int, name: str) -> _One | None:
    if len(steps) > at + 1 and steps[at] == name and steps[at + 1].isdigit():
        number = int(steps[at + 1])
        return there[number] if number < len(there) else None
    return None
