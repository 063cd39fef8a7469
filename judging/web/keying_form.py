"""The fields of a paper card: one to type a row, one to choose between two keyings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from judging.actions.key_card import Choice
from judging.models import Section
from judging.queries.keyings import Given, KeyedCard, PaperSheet
from judging.rules.cards.scorecard import Form
from judging.rules.round.events import Degree
from judging.rules.round.keying import (
    CONCERN,
    CONCERN_WORDS,
    LEFT_EMPTY,
    NOT_APPLICABLE,
    NOT_INSPECTED,
    REMARK,
    ROW,
    SIGNED,
    YES,
    takes,
)
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_

WORDS = {
    LEFT_EMPTY: N_("nothing on the paper"),
    NOT_INSPECTED: N_("could not be inspected"),
    NOT_APPLICABLE: N_("not applicable"),
    "": N_("nothing"),
}
CHOSEN, TYPED = "chosen ", "typed "


@dataclass(frozen=True)
class Field:
    """One place of the card as it is typed."""

    place: str
    label: str
    hint: str = ""
    value: str = ""
    fault: str = ""
    first: bool = False


@dataclass(frozen=True)
class FormPart:
    """A section: its rows, and its remark."""

    section: Section
    rows: list[Field]
    remark: Field


@dataclass(frozen=True)
class KeyingForm:
    """The whole card as it is typed."""

    parts: list[FormPart]
    concern: Field
    concern_words: Field
    signed: Field
    faults: list[tuple[str, str]]

    @property
    def degrees(self) -> list[tuple[str, str]]:
        """The boxes of a safety concern, each with its words."""
        return [(degree.value, degree.words) for degree in Degree]


@dataclass(frozen=True)
class Difference:
    """A place at which two keyings differ, and what was chosen so far."""

    place: str
    label: str
    first: str
    second: str
    chosen: str = ""
    typed: str = ""
    fault: str = ""


def keying_form(
    sheet: PaperSheet, typed: Mapping[str, str], faults: Mapping[str, str]
) -> KeyingForm:
    """Lay out the card for typing; what was typed before stands in it again."""
    places = sheet.rules.places
    at_first = next((place for place in places if place in faults), places[0])

    def one(place: str, label: str, hint: str = "") -> Field:
        return Field(
            place, label, hint, typed.get(place, ""), faults.get(place, ""), place == at_first
        )

    return KeyingForm(
        parts=[
            FormPart(
                part.section,
                [
                    one(ROW + row.code, row.name, takes(row.as_value(), Form(part.section.form)))
                    for row in part.rows
                ],
                one(
                    REMARK + part.section.code,
                    _("Remark on {section}").format(section=part.section.name),
                ),
            )
            for part in sheet.parts
        ],
        concern=one(CONCERN, _("Safety concern")),
        concern_words=one(CONCERN_WORDS, _("What was written about safety")),
        signed=one(SIGNED, _("The judge signed the card")),
        faults=[(place, faults[place]) for place in places if place in faults],
    )


def differences(
    there: KeyedCard,
    sheet: PaperSheet,
    choices: Mapping[str, Choice],
    faults: Mapping[str, str],
) -> list[Difference]:
    """List what two keyings have differently, with both."""
    names = labels(sheet)
    first, second = there.given
    return [
        Difference(
            place=place,
            label=names.get(place, place),
            first=in_words(place, first.get(place, "")),
            second=in_words(place, second.get(place, "")),
            chosen=choices[place].chosen if place in choices else "",
            typed=choices[place].typed if place in choices else "",
            fault=faults.get(place, ""),
        )
        for place in there.differing
    ]


def labels(sheet: PaperSheet) -> dict[str, str]:
    """Name every place of the card."""
    named = {
        CONCERN: _("Safety concern"),
        CONCERN_WORDS: _("Words on safety"),
        SIGNED: _("Signature"),
    }
    for part in sheet.parts:
        named |= {ROW + row.code: row.name for row in part.rows}
        named[REMARK + part.section.code] = _("Remark on {section}").format(
            section=part.section.name
        )
    return named


def in_words(place: str, given: str) -> str:
    """Say what was keyed at a place."""
    if place == SIGNED:
        return _("signed") if given == YES else _("not signed")
    if place == CONCERN and given:
        return Degree(given).words
    if place.startswith(ROW):
        return _(WORDS[given]) if given in WORDS else given
    return given or _(WORDS[""])


def lines_of(sheet: PaperSheet, given: Given) -> list[tuple[str, str]]:
    """List what the card says, by name, without the words nobody wrote."""
    names = labels(sheet)
    return [
        (names.get(place, place), in_words(place, text))
        for place, text in given.items()
        if text or not (place.startswith(REMARK) or place == CONCERN_WORDS)
    ]


def choices_of(posted: Mapping[str, str], places: tuple[str, ...]) -> dict[str, Choice]:
    """Read what a third look chose."""
    return {
        place: Choice(posted.get(CHOSEN + place, ""), posted.get(TYPED + place, ""))
        for place in places
    }
