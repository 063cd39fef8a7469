"""What changed between two versions of a card, and which marks stay good."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Protocol

from judging.rules.cards.card_values import CardFile, CriterionFile, SectionFile
from judging.rules.cards.condition import in_words
from judging.rules.cards.scorecard import Form
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.language import ngettext


class Kind(StrEnum):
    """What happened to a part of the card."""

    ADDED = "added"
    REMOVED = "removed"
    CHANGED = "changed"
    MOVED = "moved"


@dataclass(frozen=True)
class Change:
    """One thing that differs.

    Attributes
    ----------
    kind : Kind
    what : str
        ``card``, ``section`` or ``row``.
    code : str
        Of the section or row; of the card it may be empty.
    field : str
        Which of its values changed; empty when it was added, removed or moved.
    before, after : str
        As people read them; empty where there is none.
    sentence : str
    """

    kind: Kind
    what: str
    code: str
    field: str
    before: str
    after: str
    sentence: str


@dataclass(frozen=True)
class CardDifference:
    """All changes, and what they do to marks that are there already.

    Attributes
    ----------
    changes : tuple of Change
        The card's own, then sections and their rows in the order of the new card, then what is
        gone.
    set_aside : tuple of str
        Codes of rows whose marks do not carry over: gone, or taking other marks now.
    lacking : tuple of str
        Codes of rows that need a mark from every judge: new, or taking other marks now.
    """

    changes: tuple[Change, ...]
    set_aside: tuple[str, ...]
    lacking: tuple[str, ...]


class TakesMarks(Protocol):
    """A row, as far as its marks are concerned."""

    @property
    def max_mark(self) -> Decimal: ...

    @property
    def step(self) -> Decimal: ...


def carries(old_row: TakesMarks, old_form: Form, new_row: TakesMarks, new_form: Form) -> bool:
    """Say whether a mark on the old row is as good on the new one.

    Notes
    -----
    Same most, same step and same form. Another name, weight, guidance or section leaves a mark
    what it was; what it is worth is reckoned again.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> ten = CriterionFile("hubs", "Hubs", Decimal(10), Decimal(1))
    >>> five = CriterionFile("hubs", "Hubs", Decimal(5), Decimal(1))
    >>> carries(ten, Form.POINTS, ten, Form.POINTS), carries(ten, Form.POINTS, five, Form.POINTS)
    (True, False)
    """
    same_scale = old_row.max_mark == new_row.max_mark and old_row.step == new_row.step
    return same_scale and old_form == new_form


def difference(old: CardFile, new: CardFile) -> CardDifference:
    """Compare two versions of a card, by the codes of sections and rows.

    Parameters
    ----------
    old, new : CardFile

    Returns
    -------
    CardDifference
        Without changes when the two say the same; the version number itself is no change.

    Notes
    -----
    A row is the same row as long as its code is, even in another section; a new code is a new
    row. Rows or sections that only stand in another order are told once for each section, or
    once for the card.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> row = CriterionFile("hubs", "Hubs", Decimal(10), Decimal(1))
    >>> finer = CriterionFile("hubs", "Hubs", Decimal(10), Decimal("0.5"))
    >>> old = CardFile("Wagon", (SectionFile("gear", "Gear", Decimal(25), 4, (row,)),))
    >>> new = CardFile("Wagon", (SectionFile("gear", "Gear", Decimal(20), 4, (finer,)),))
    >>> found = difference(old, new)
    >>> for change in found.changes:
    ...     print(change.sentence)
    Section Gear: the points were 25 and are 20.
    Row Hubs: the step was 1 and is 0.5.
    >>> found.set_aside, found.lacking
    (('hubs',), ('hubs',))
    """
    old_rows, new_rows = _rows(old), _rows(new)
    stays = [
        code
        for code, (section, row) in new_rows.items()
        if code in old_rows
        and carries(old_rows[code][1], old_rows[code][0].form, row, section.form)
    ]
    kept = frozenset(stays)
    return CardDifference(
        changes=tuple(_changes(old, new, old_rows, new_rows)),
        set_aside=tuple(code for code in old_rows if code not in kept),
        lacking=tuple(code for code in new_rows if code not in kept),
    )


Rows = Mapping[str, tuple[SectionFile, CriterionFile]]

_CARD_WORDS = {"name": N_("the name"), "notice": N_("the notice")}
_SECTION_WORDS = {
    "name": N_("the name"),
    "points": N_("the points"),
    "minutes": N_("the minutes"),
    "form": N_("the form"),
    "all_or_nothing": N_("all or nothing"),
    "quick_phrases": N_("the quick phrases"),
}
_ROW_WORDS = {
    "name": N_("the name"),
    "max_mark": N_("the highest mark"),
    "step": N_("the step"),
    "weight": N_("the weight"),
    "danger": N_("the danger letter"),
    "applies": N_("the rigs it is judged on"),
    "one_of": N_("the group it stands in for"),
    "parts": N_("the parts of the handbook"),
    "guidance": N_("the guidance"),
}
_MANY = {"points", "minutes", "quick_phrases", "applies", "parts"}
_LONG = {"notice", "guidance"}


def _rows(card: CardFile) -> Rows:
    return {row.code: (section, row) for section in card.sections for row in section.criteria}


def _changes(old: CardFile, new: CardFile, old_rows: Rows, new_rows: Rows) -> Iterator[Change]:
    before = {section.code: section for section in old.sections}
    after = {section.code: section for section in new.sections}
    yield from _fields("card", new.code, _("The card"), old, new, _CARD_WORDS)
    if _reordered(list(before), list(after)):
        yield _told(Kind.MOVED, "card", new.code, _("The sections stand in another order."))
    for code, section in after.items():
        if code not in before:
            sentence = _("Section {section} is new, with {count}.").format(
                section=section.name, count=_count(section)
            )
            yield _told(Kind.ADDED, "section", code, sentence)
        else:
            head = _("Section {section}").format(section=section.name)
            yield from _fields("section", code, head, before[code], section, _SECTION_WORDS)
            if _reordered(_codes(before[code]), _codes(section)):
                sentence = _("{head}: its rows stand in another order.").format(head=head)
                yield _told(Kind.MOVED, "section", code, sentence)
        yield from _row_changes(section, old_rows)
    for code, section in before.items():
        if code not in after:
            sentence = _("Section {section} is gone, which had {count}.").format(
                section=section.name, count=_count(section)
            )
            yield _told(Kind.REMOVED, "section", code, sentence)
    for code, (section, row) in old_rows.items():
        if code not in new_rows:
            sentence = _("Row {row} of {section} is gone.").format(
                row=row.name, section=section.name
            )
            yield _told(Kind.REMOVED, "row", code, sentence)


def _row_changes(section: SectionFile, old_rows: Rows) -> Iterator[Change]:
    for row in section.criteria:
        if row.code not in old_rows:
            sentence = _("Row {row} of {section} is new.").format(
                row=row.name, section=section.name
            )
            yield _told(Kind.ADDED, "row", row.code, sentence)
            continue
        was_in, was = old_rows[row.code]
        if was_in.code != section.code:
            yield Change(
                Kind.MOVED,
                "row",
                row.code,
                "",
                was_in.name,
                section.name,
                _("Row {row} has moved from {was} to {section}.").format(
                    row=row.name, was=was_in.name, section=section.name
                ),
            )
        yield from _fields(
            "row", row.code, _("Row {row}").format(row=row.name), was, row, _ROW_WORDS
        )


def _fields(
    what: str, code: str, head: str, old: object, new: object, words: Mapping[str, str]
) -> Iterator[Change]:
    for field, word in words.items():
        one, other = getattr(old, field), getattr(new, field)
        if one == other:
            continue
        before, after, name = _said(field, one), _said(field, other), _(word)
        if field in _LONG:
            sentence = _("{head}: {name} reads differently.").format(head=head, name=name)
        elif field in _MANY:
            sentence = _("{head}: {name} were {before} and are {after}.").format(
                head=head, name=name, before=before, after=after
            )
        else:
            sentence = _("{head}: {name} was {before} and is {after}.").format(
                head=head, name=name, before=before, after=after
            )
        yield Change(Kind.CHANGED, what, code, field, before, after, sentence)


def _said(field: str, value: object) -> str:
    """A value as people read it."""
    if field == "applies":
        # The field says what it is.
        return in_words(value)  # type: ignore[arg-type]
    if isinstance(value, Form):
        return value.words
    if isinstance(value, bool):
        return _("on") if value else _("off")
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, tuple):
        return ", ".join(value) or _("none")
    return str(value) or _("none")


def _told(kind: Kind, what: str, code: str, sentence: str) -> Change:
    return Change(kind, what, code, "", "", "", sentence)


def _codes(section: SectionFile) -> list[str]:
    return [row.code for row in section.criteria]


def _count(section: SectionFile) -> str:
    count = len(section.criteria)
    return ngettext("{n} row", "{n} rows", count).format(n=count)


def _reordered(before: Sequence[str], after: Sequence[str]) -> bool:
    """Whether what stands in both stands in another order."""
    both = set(before) & set(after)
    return [code for code in before if code in both] != [code for code in after if code in both]
