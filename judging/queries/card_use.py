"""What putting a version of the card in use would touch, worked out before anything is."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

from judging.models import (
    Card,
    CardMark,
    ClassCard,
    Criterion,
    Judge,
    Question,
    Scorecard,
    Seat,
    Section,
    Window,
)
from judging.models.card import EMPTY
from judging.queries.card_findings import findings_of
from judging.queries.cards import card_of
from judging.queries.practice import judging_begun
from judging.queries.rigs import card_facts
from judging.rules.cards.check_card import Finding
from judging.rules.cards.condition import applies
from judging.rules.cards.difference import carries
from judging.rules.cards.scorecard import Form
from showrun.language import gettext as _
from showrun.language import ngettext
from showrun.shows.models import Show


class MarkMove(NamedTuple):
    """A mark that goes over to a row of the new version."""

    mark: int
    card: int
    row: int
    aside: bool
    was_aside: bool
    empty: bool  # taken back: it keeps its history and is no mark


class KeptMark(NamedTuple):
    """A mark as it stands, with the row it is on."""

    pk: int
    card: int
    row: int
    code: str
    state: str
    aside: bool


@dataclass(frozen=True)
class UsePlan:
    """What goes over to the new version, and what does not."""

    old: Scorecard | None
    new: Scorecard
    faults: Mapping[str, str]
    begun: bool
    sections: Mapping[int, int] = field(default_factory=dict)  # old section id: new one's
    rows: Mapping[int, int] = field(default_factory=dict)  # rows that take the same marks
    gone: Sequence[Section] = ()
    moves: Sequence[MarkMove] = ()
    set_aside: Sequence[KeptMark] = ()
    reopened: Sequence[Card] = ()
    stale_questions: int = 0
    seats_lost: int = 0
    judges: Sequence[Judge] = ()  # who lose a section
    classes: Sequence[ClassCard] = ()  # that lose a section
    emptied: Sequence[ClassCard] = ()  # that would count none any more
    found: Sequence[Finding] = ()  # what keeps the card from being used, beside its faults
    other_minutes: bool = False  # a window was sized to other minutes

    @property
    def needs_reason(self) -> bool:
        """Once judging has begun, a change of the card is explained."""
        return self.begun

    @cached_property
    def newly_aside(self) -> list[int]:
        """The card of each mark that would not count any more, whatever the reason."""
        off = [m.card for m in self.moves if m.aside and not m.was_aside and not m.empty]
        return [*(mark.card for mark in self.set_aside), *off]

    @cached_property
    def marks_back(self) -> int:
        """Marks set aside before that would count again."""
        return sum(move.was_aside and not move.aside and not move.empty for move in self.moves)

    @property
    def stops(self) -> list[str]:
        """Sentences for whatever keeps the version from being put in use, beside its faults."""
        found = [finding.sentence for finding in self.found]
        if self.begun:
            found += [
                _(
                    "{show_class} would count no section any more, and how a class is judged is "
                    "not changed once judging has begun."
                ).format(show_class=card.show_class.name)
                for card in self.emptied
            ]
        return found

    @property
    def sentences(self) -> list[str]:
        """Say, for the office, what it would touch."""
        if self.old is None:
            return [_("The show has no card in use yet; nothing is touched.")]
        said = [*self._about_marks(), *self._about_panel()]
        if self.begun:
            said.append(
                _("Results released before stand as they are until they are computed anew.")
            )
        return said or [_("Seats, judges and classes go over as they are; no mark is given yet.")]

    def _about_marks(self) -> Iterator[str]:
        if self.moves:
            live = sum(not move.aside and not move.empty for move in self.moves)
            yield ngettext(
                "{n:,} mark given so far goes over as given.",
                "{n:,} marks given so far go over as given.",
                live,
            ).format(n=live)
        if self.newly_aside:
            n, cards = len(self.newly_aside), len(set(self.newly_aside))
            yield ngettext(
                "{n:,} mark on {cards} would be set aside, kept and shown but not counted: the "
                "row is gone, takes other marks, or is not judged on that rig any more.",
                "{n:,} marks on {cards} would be set aside, kept and shown but not counted: the "
                "row is gone, takes other marks, or is not judged on that rig any more.",
                n,
            ).format(n=n, cards=ngettext("{n:,} card", "{n:,} cards", cards).format(n=cards))
        if self.marks_back:
            yield ngettext(
                "{n:,} mark set aside before would count again.",
                "{n:,} marks set aside before would count again.",
                self.marks_back,
            ).format(n=self.marks_back)
        if self.reopened:
            n = len(self.reopened)
            yield ngettext(
                "{n:,} card handed in would open again, because rows lack a mark; the judge "
                "marks them and hands in anew.",
                "{n:,} cards handed in would open again, because rows lack a mark; the judge "
                "marks them and hands in anew.",
                n,
            ).format(n=n)
        if self.stale_questions:
            yield ngettext(
                "{n:,} open question asks about a mark set aside, and stays until the office "
                "answers it.",
                "{n:,} open questions ask about a mark set aside, and stays until the office "
                "answers it.",
                self.stale_questions,
            ).format(n=self.stale_questions)

    def _about_panel(self) -> Iterator[str]:
        for section in self.gone:
            yield _("The section {section} is gone: nobody judges it any more.").format(
                section=section.name
            )
        if self.seats_lost:
            yield ngettext(
                "{n:,} seat of the panel would be gone.",
                "{n:,} seats of the panel would be gone.",
                self.seats_lost,
            ).format(n=self.seats_lost)
        if self.judges:
            names = ", ".join(judge.person.name for judge in self.judges)
            yield _("These judges would have a section less: {names}.").format(names=names)
        if self.classes:
            names = ", ".join(card.show_class.name for card in self.classes)
            yield _("These classes would count a section less: {names}.").format(names=names)
        if self.emptied and not self.begun:
            names = ", ".join(card.show_class.name for card in self.emptied)
            yield _("These classes would have to be declared anew: {names}.").format(names=names)
        if self.other_minutes:
            yield _("The window was sized to other minutes; size it again if there is time.")


def what_use_would_touch(card: Scorecard) -> UsePlan:
    """Work out what putting this version in use would do; nothing is changed.

    `card` comes with its sections and rows at hand.
    """
    show, old = card.show, card_of(card.show)
    looked, begun = findings_of(card), judging_begun(show)
    if old is None or old.pk == card.pk:
        return UsePlan(old=None, new=card, faults=looked.faults, begun=begun, found=looked.stops)
    by_code = {section.code: section for section in card.sections.all()}
    sections = {
        section.pk: by_code[section.code].pk
        for section in old.sections.all()
        if section.code in by_code
    }
    gone = [section for section in old.sections.all() if section.code not in by_code]
    marks = _Marks.of(old, card)
    classes, emptied = _classes(show, gone)
    lost = Seat.objects.filter(section__in=[section.pk for section in gone])
    minutes = {s.code: s.minutes for s in old.sections.all()}
    changed = any(minutes.get(code) not in (None, s.minutes) for code, s in by_code.items())
    open_about = Question.objects.filter(judge__show=show, state=Question.State.OPEN)
    stale = open_about.filter(criterion__section__scorecard=old).exclude(
        criterion__in=list(marks.rows)
    )
    return UsePlan(
        old=old,
        new=card,
        faults=looked.faults,
        begun=begun,
        sections=sections,
        rows=marks.rows,
        gone=gone,
        moves=marks.moves,
        set_aside=marks.set_aside,
        reopened=_reopened(card, sections, marks),
        stale_questions=stale.count(),
        seats_lost=lost.count() if gone else 0,
        judges=list(
            Judge.objects.filter(sections__in=gone).select_related("person").distinct()
            if gone
            else ()
        ),
        classes=classes,
        emptied=emptied,
        found=looked.stops,
        other_minutes=changed and Window.objects.filter(show=show).exists(),
    )


def _classes(show: Show, gone: Sequence[Section]) -> tuple[list[ClassCard], list[ClassCard]]:
    """Return the classes that lose a section, and those that lose all they count."""
    left = {section.code for section in gone}
    losing: list[ClassCard] = []
    emptied: list[ClassCard] = []
    cards = ClassCard.objects.filter(show_class__show=show).select_related("show_class")
    for card in cards.prefetch_related("sections").order_by("show_class__position"):
        codes = {section.code for section in card.sections.all()}
        if codes & left:
            (losing if codes - left else emptied).append(card)
    return losing, emptied


@dataclass(frozen=True)
class _Marks:
    """Where each mark of the show goes when the card changes."""

    rows: Mapping[int, int]
    moves: Sequence[MarkMove]
    set_aside: Sequence[KeptMark]
    facts: Mapping[int, Mapping[str, str]]  # by card id
    new_rows: Mapping[int, Criterion]

    @classmethod
    def of(cls, old: Scorecard, new: Scorecard) -> _Marks:
        """Match rows by code, and marks to the rows that take them.

        A mark set aside when an earlier version was replaced comes back where a row that takes
        it comes back and the judge has given no other.
        """
        cards = Card.objects.filter(judge__show=old.show).select_related("entry")
        facts = {card.pk: card_facts(card, card.entry) for card in cards}
        new_rows = {row.code: (row, form_of(row, new)) for row in _rows_of(new)}
        kept = _kept_marks(old)
        fits = _fits({mark.row for mark in kept}, old, new_rows)
        by_place: dict[tuple[int, str], list[KeptMark]] = defaultdict(list)
        for mark in kept:
            by_place[mark.card, mark.code].append(mark)
        current = {row.pk for row in _rows_of(old)}
        moves, aside = [], []
        for (card, code), here in by_place.items():
            # The mark on the card in use goes first, then the newest of those set aside.
            here.sort(key=lambda mark: (mark.row in current, mark.row), reverse=True)
            moving = next((mark for mark in here if mark.row in fits), None)
            if moving:
                row = new_rows[code][0]
                off = not applies(row.applies, facts[card])
                empty = moving.state == EMPTY
                moves.append(MarkMove(moving.pk, card, row.pk, off, moving.aside, empty))
            aside += [
                mark
                for mark in here
                if mark is not moving and not mark.aside and mark.state != EMPTY
            ]
        return cls(
            rows={old_row: fits[old_row] for old_row in fits if old_row in current},
            moves=moves,
            set_aside=aside,
            facts=facts,
            new_rows={row.pk: row for row, _ in new_rows.values()},
        )


def _rows_of(card: Scorecard) -> list[Criterion]:
    return [row for section in card.sections.all() for row in section.criteria.all()]


def form_of(row: Criterion, card: Scorecard) -> Form:
    """Return the form of the row's section, its card being at hand."""
    return Form(next(s.form for s in card.sections.all() if s.pk == row.section_id))


def _kept_marks(old: Scorecard) -> list[KeptMark]:
    marks = CardMark.objects.filter(card__judge__show=old.show).order_by()
    columns = ("pk", "card_id", "criterion_id", "criterion__code", "state", "aside")
    return [KeptMark(*line) for line in marks.values_list(*columns)]


def _fits(
    marked: set[int], old: Scorecard, new_rows: Mapping[str, tuple[Criterion, Form]]
) -> dict[int, int]:
    """Return the rows whose marks the row of the same code takes, by their ids."""
    wanted = marked | {row.pk for row in _rows_of(old)}
    found = {}
    rows = Criterion.objects.filter(section__scorecard__show=old.show).select_related("section")
    for row in rows.order_by():
        if row.pk not in wanted or row.code not in new_rows:
            continue
        new_row, new_form = new_rows[row.code]
        if carries(row.as_value(), Form(row.section.form), new_row.as_value(), new_form):
            found[row.pk] = new_row.pk
    return found


def _reopened(card: Scorecard, sections: Mapping[int, int], marks: _Marks) -> list[Card]:
    """Return the cards handed in that would lack a mark."""
    handed_in = Card.objects.filter(judge__show=card.show, handed_in_at__isnull=False)
    seats: dict[tuple[int, int], set[int]] = defaultdict(set)
    for judge, entry, section in Seat.objects.filter(
        judge__show=card.show, section__in=list(sections)
    ).values_list("judge_id", "entry_id", "section_id"):
        seats[judge, entry].add(sections[section])
    given: dict[int, set[int]] = defaultdict(set)
    for move in marks.moves:
        if not move.aside and not move.empty:
            given[move.card].add(move.row)
    rows: dict[int, list[Criterion]] = defaultdict(list)
    for row in marks.new_rows.values():
        rows[row.section_id].append(row)

    def lacks(one: Card) -> bool:
        here = (row for section in seats[one.judge_id, one.entry_id] for row in rows[section])
        return any(
            row.pk not in given[one.pk] and applies(row.applies, marks.facts[one.pk])
            for row in here
        )

    return [one for one in handed_in if lacks(one)]
