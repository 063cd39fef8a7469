"""What is typed from a paper card, and how two people's keyings of the same card are compared."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from judging.rules.cards.scorecard import (
    Criterion,
    Form,
    Mark,
    MarkRefused,
    MarkState,
    Section,
    check_mark,
)
from judging.rules.round.card_hash import plain_number
from judging.rules.round.events import TEXT_MAX, Degree
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_

NOT_INSPECTED, NOT_APPLICABLE, LEFT_EMPTY = "x", "-", "."
_STATES = {NOT_INSPECTED: MarkState.NOT_INSPECTED, NOT_APPLICABLE: MarkState.NOT_APPLICABLE}
_PASS_FAIL = {"p": "1", "f": "0"}
_DASHES = str.maketrans("\u2013\u2014\u2212", "---")
_NUMBER = re.compile(r"[0-9]{1,4}(?:[.,][0-9]{1,2})?")

# Where something stands on the card: `row:` and `remark:` are followed by a code.
ROW, REMARK = "row:", "remark:"
CONCERN, CONCERN_WORDS, SIGNED = "concern", "concern-words", "signed"
YES, NO = "yes", "no"


class KeyingRefused(ValueError):
    """What was typed cannot stand on the card; the sentence says what can."""


class State(StrEnum):
    """How far a paper card is on its way into the judge's card."""

    NOT_KEYED = N_("not keyed")
    ONCE = N_("keyed once")
    DIFFER = N_("differ")
    AGREED = N_("agreed")
    TAKEN = N_("taken")


@dataclass(frozen=True)
class Sheet:
    """A card as it is keyed: the sections of its judge with the rows of its rig, in order."""

    sections: tuple[Section, ...]
    facts: Mapping[str, str]

    @property
    def rows(self) -> dict[str, tuple[Criterion, Form]]:
        """Every row by its place."""
        return {
            ROW + row.code: (row, section.form)
            for section in self.sections
            for row in section.rows_for(self.facts)
        }

    @property
    def places(self) -> tuple[str, ...]:
        """Every place something may stand at, in the card's order."""
        return (
            *(
                place
                for section in self.sections
                for place in (
                    *(ROW + row.code for row in section.rows_for(self.facts)),
                    REMARK + section.code,
                )
            ),
            CONCERN,
            CONCERN_WORDS,
            SIGNED,
        )


def read_mark(typed: str, criterion: Criterion, form: Form, facts: Mapping[str, str]) -> str:
    """Read what was typed for a row, and write it in the one way it is kept and compared.

    Parameters
    ----------
    typed : str
        A number of marks, `x` for could not be inspected, `-` for not applicable, `.` where the
        paper has nothing; `p` or `f` where the section is passed or failed.
    criterion : Criterion
    form : Form
        Of the row's section.
    facts : mapping
        The rig the card goes by.

    Returns
    -------
    str
        The number without trailing zeros, or `x`, `-` or `.`.

    Raises
    ------
    KeyingRefused
        With a sentence that says what the row takes.

    Notes
    -----
    Nothing typed is refused: a row left out by a slip must not pass for one the judge left empty.

    Source
    ------
    Our own rule; which marks a row takes is `check_mark`.

    Examples
    --------
    >>> row = Criterion("hub", "Hubs", Decimal(10), Decimal("0.5"))
    >>> read_mark(" 7,50 ", row, Form.POINTS, {}), read_mark("X", row, Form.POINTS, {})
    ('7.5', 'x')
    >>> read_mark("7.2", row, Form.POINTS, {})
    Traceback (most recent call last):
    ...
    judging.rules.round.keying.KeyingRefused: Hubs goes in steps of 0.5; 7.2 was typed.
    """
    sign = typed.strip().casefold().translate(_DASHES)
    if sign == LEFT_EMPTY:
        return LEFT_EMPTY
    if not sign:
        raise KeyingRefused(
            _("{row}: type what the card says, or . if it says nothing.").format(row=criterion.name)
        )
    if form is Form.PASS_FAIL:
        sign = _PASS_FAIL.get(sign, sign)
    if sign not in _STATES and not _NUMBER.fullmatch(sign):
        raise KeyingRefused(
            _(
                "{row}: a number, x for not inspected, - for not applicable, or . for nothing."
            ).format(row=criterion.name)
        )
    mark = mark_of(sign.replace(",", "."))
    assert mark is not None
    try:
        check_mark(criterion, facts, mark, form)
    except MarkRefused as refused:
        raise KeyingRefused(str(refused).replace(" was sent", " was typed")) from refused
    return plain_number(mark.value) if mark.value is not None else sign


def takes(criterion: Criterion, form: Form) -> str:
    """Say what a row takes, as shortly as it stands beside its box.

    Parameters
    ----------
    criterion : Criterion
    form : Form
        Of the row's section.

    Source
    ------
    As `check_mark`.

    Examples
    --------
    >>> takes(Criterion("hub", "Hubs", Decimal(10), Decimal("0.5")), Form.POINTS)
    '0 to 10 by 0.5'
    """
    if form is Form.PASS_FAIL:
        return _("1 pass, 0 fail")
    if form is Form.PLACINGS:
        return _("place, 1 is best")
    most, step = plain_number(criterion.max_mark), plain_number(criterion.step)
    if step == "1":
        return _("0 to {most}").format(most=most)
    return _("0 to {most} by {step}").format(most=most, step=step)


def mark_of(given: str) -> Mark | None:
    """Return the mark a kept sign stands for, None where the paper has nothing.

    Examples
    --------
    >>> mark_of("x"), mark_of(".")
    (Mark(state=<MarkState.NOT_INSPECTED: 'not_inspected'>, value=None), None)
    """
    if given == LEFT_EMPTY:
        return None
    if given in _STATES:
        return Mark(_STATES[given])
    return Mark(MarkState.MARKED, Decimal(given))


def read_keying(typed: Mapping[str, str], sheet: Sheet) -> tuple[dict[str, str], dict[str, str]]:
    """Read a whole keying.

    Parameters
    ----------
    typed : mapping of str to str
        By place; what is not there was left empty.
    sheet : Sheet
        The card as it stands.

    Returns
    -------
    tuple
        What is given and what is wrong, each by place; with faults the first is not complete.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> row = Criterion("hub", "Hubs", Decimal(10), Decimal(1))
    >>> sheet = Sheet((Section("gear", "Gear", Decimal(40), 4, (row,)),), {})
    >>> read_keying({"row:hub": "7", "signed": "yes"}, sheet)[0]
    {'row:hub': '7', 'remark:gear': '', 'concern': '', 'concern-words': '', 'signed': 'yes'}
    >>> read_keying({"row:hub": "17"}, sheet)[1]
    {'row:hub': 'Hubs takes at most 10; 17 was typed.'}
    """
    given: dict[str, str] = {}
    faults: dict[str, str] = {}
    for place in sheet.places:
        try:
            given[place] = read_place(place, typed.get(place, ""), sheet)
        except KeyingRefused as refused:
            faults[place] = str(refused)
    if given.get(CONCERN_WORDS) and not given.get(CONCERN) and CONCERN not in faults:
        faults[CONCERN] = _("There are words on safety; which of the three boxes is ticked?")
    return given, faults


def read_place(place: str, typed: str, sheet: Sheet) -> str:
    """Read what was typed for one place of a card.

    Parameters
    ----------
    place, typed : str
    sheet : Sheet

    Raises
    ------
    KeyingRefused
        With a sentence for the person who typed it.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> read_place("remark:gear", "  dry   leather ", Sheet((), {}))
    'dry leather'
    """
    if place.startswith(ROW):
        if place not in sheet.rows:
            raise KeyingRefused(_("The card has this row no more; the rig is another now."))
        row, form = sheet.rows[place]
        return read_mark(typed, row, form, sheet.facts)
    if place == SIGNED:
        return YES if typed == YES else NO
    words = " ".join("".join(c if c >= " " else " " for c in typed).split())
    if place == CONCERN:
        if words and words not in set(Degree):
            raise KeyingRefused(_("A safety concern is stop, mend or note, or there is none."))
        return words
    if len(words) > TEXT_MAX:
        raise KeyingRefused(
            _("At most {most} letters; {n} were typed.").format(most=TEXT_MAX, n=len(words))
        )
    return words


def differing(first: Mapping[str, str], second: Mapping[str, str]) -> tuple[str, ...]:
    """List the places at which two keyings of a card differ, in the first's order.

    Parameters
    ----------
    first, second : mapping of str to str
        What was given, by place, as `read_keying` returns it.

    Returns
    -------
    tuple of str

    Notes
    -----
    Marks, boxes and the signature must be the same. Words are the same when their letters and
    digits are: blanks, capitals and stops are handwriting, not judging.

    Source
    ------
    Common practice, no source: each card is keyed twice, by two people.

    Examples
    --------
    >>> differing({"row:hub": "7", "remark:gear": "Dry leather."},
    ...     {"row:hub": "1", "remark:gear": "dry leather"})
    ('row:hub',)
    """
    places = [*first, *(place for place in second if place not in first)]
    return tuple(
        place
        for place in places
        if _compared(place, first.get(place)) != _compared(place, second.get(place))
    )


def _compared(place: str, given: str | None) -> str | None:
    words = place.startswith(REMARK) or place == CONCERN_WORDS
    return letters_of(given) if words and given is not None else given


def letters_of(words: str) -> str:
    """Return the letters and digits of words in handwriting, by which two readings are compared.

    Examples
    --------
    >>> letters_of("Dry leather, 2 straps.")
    'dryleather2straps'
    """
    return "".join(c for c in words.casefold() if c.isalnum())


def agreed(
    first: Mapping[str, str], second: Mapping[str, str], looked: Mapping[str, str]
) -> dict[str, str] | None:
    """Say what the card says: where two keyings agree, and what a third look found elsewhere.

    Parameters
    ----------
    first, second : mapping of str to str
        What was given, by place.
    looked : mapping of str to str
        What the third look found, at the places that differ.

    Returns
    -------
    dict or None
        By place; None while a place that differs was not looked at. Of words that agree, the
        first keying's writing is kept.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> agreed({"row:hub": "7"}, {"row:hub": "1"}, {}) is None
    True
    >>> agreed({"row:hub": "7"}, {"row:hub": "1"}, {"row:hub": "7"})
    {'row:hub': '7'}
    """
    open_places = differing(first, second)
    if any(place not in looked for place in open_places):
        return None
    return {**first, **{place: looked[place] for place in open_places}}


def state_of(keyings: Sequence[Mapping[str, str]], *, looked: bool, taken: bool) -> State:
    """Say how far a paper card is.

    Parameters
    ----------
    keyings : sequence of mapping
        What each person gave, by place; at most two.
    looked : bool
        Whether the third look was taken.
    taken : bool
        Whether the values are in the judge's card.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> state_of([{"row:hub": "7"}, {"row:hub": "1"}], looked=False, taken=False).value
    'differ'
    """
    if taken:
        return State.TAKEN
    if len(keyings) < 2:
        return State.ONCE if keyings else State.NOT_KEYED
    if looked or not differing(keyings[0], keyings[1]):
        return State.AGREED
    return State.DIFFER
