"""One judge's cards on the table while a batch of their events is worked through.

Everything is fetched once, weighed in memory by the rules, and written once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from entries.models import Entry
from judging.actions.answer_question import settle_answer
from judging.models import (
    Card,
    CardMark,
    Criterion,
    Device,
    Judge,
    Question,
    Remark,
    RoundEvent,
    SafetyConcern,
    Scorecard,
    Seat,
    Section,
)
from judging.models.card import EMPTY
from judging.rules.cards import scorecard as values
from judging.rules.round.card_hash import card_hash
from judging.rules.round.events import Event, EventRefused, Kind
from judging.rules.round.merge import Standing, takes_effect

ROWS_MISSING = "rows-missing"
MARK_FIELDS = ("state", "value", "version", "device", "seq", "event")
REMARK_FIELDS = ("text", "device", "seq", "event")


@dataclass
class _Open:
    """A card in work: the entry, its rows on this rig, marks and remarks as they stand."""

    card: Card
    entry: Entry
    sections: dict[str, Section]
    rows: dict[str, Criterion]
    facts: dict[str, str]
    marks: dict[str, CardMark] = field(default_factory=dict)
    remarks: dict[str, Remark] = field(default_factory=dict)

    def values(self) -> dict[str, values.Mark]:
        """Return the marks as the rules know them."""
        found = {code: mark.as_value() for code, mark in self.marks.items()}
        return {code: mark for code, mark in found.items() if mark is not None}

    def lacking(self) -> list[str]:
        """Return the rows of this rig that have no mark yet."""
        given = self.values()
        return [
            code
            for code, row in self.rows.items()
            if code not in given and row.as_value().is_for(self.facts)
        ]

    def hash(self) -> str:
        """Return the fingerprint the phone compares with its own."""
        return card_hash(self.values())


class Desk:
    """Applies events to cards; whatever cannot take effect raises `EventRefused`."""

    def __init__(self, *, judge: Judge, device: Device, at: datetime) -> None:
        self.judge, self.device, self.at = judge, device, at
        self._shut_out = set(
            Device.objects.filter(judge=judge, revoked_at__isnull=False).values_list(
                "pk", flat=True
            )
        )
        self.open = self._lay_out()
        self._touched_marks: dict[tuple[int, str], CardMark] = {}
        self._touched_remarks: dict[tuple[int, str], Remark] = {}
        self._touched_cards: set[int] = set()
        self._after: list[Callable[[], None]] = []
        self._hand_ins: list[RoundEvent] = []
        self._answered: set[int] = set()

    # --- reading ----------------------------------------------------------------------
    def _lay_out(self) -> dict[int, _Open]:
        seats = list(
            Seat.objects.filter(judge=self.judge)
            .select_related("entry", "section")
            .order_by("section__position")
        )
        rows: dict[int, list[Criterion]] = {}
        for criterion in Criterion.objects.filter(section__in={s.section_id for s in seats}):
            rows.setdefault(criterion.section_id, []).append(criterion)
        cards = {card.entry_id: card for card in Card.objects.filter(judge=self.judge)}
        opened: dict[int, _Open] = {}
        for seat in seats:
            here = opened.get(seat.entry_id)
            if here is None:
                card = cards.get(seat.entry_id) or Card(judge=self.judge, entry=seat.entry)
                here = _Open(card, seat.entry, {}, {}, seat.entry.rig.facts())
                opened[seat.entry_id] = here
            here.sections[seat.section.code] = seat.section
            here.rows.update({row.code: row for row in rows.get(seat.section_id, ())})
        self._fetch_marks(opened)
        return opened

    def _fetch_marks(self, opened: dict[int, _Open]) -> None:
        by_card = {here.card.pk: here for here in opened.values() if here.card.pk}
        marks = CardMark.objects.filter(card__in=by_card).select_related("criterion")
        for mark in marks:
            by_card[mark.card_id].marks[mark.criterion.code] = mark
        for remark in Remark.objects.filter(card__in=by_card).select_related("section"):
            by_card[remark.card_id].remarks[remark.section.code] = remark

    # --- applying ---------------------------------------------------------------------
    def apply(self, event: Event, row: RoundEvent) -> None:
        """Let one event take effect, or raise `EventRefused`."""
        if self.device.pk in self._shut_out:
            raise EventRefused("device-shut-out", "This phone was shut out before it sent this.")
        {
            Kind.MARK: self._mark,
            Kind.CLEAR: self._mark,
            Kind.REMARK: self._remark,
            Kind.CONCERN: self._concern,
            Kind.HAND_IN: self._hand_in,
            Kind.ANSWER: self._answer,
        }[event.kind](event, row)

    def _card_of(self, event: Event) -> _Open:
        here = self.open.get(event.entry or 0)
        if here is None:
            raise EventRefused("not-your-card", "This judge has no card for that entry.")
        return here

    def _demand_open(self, here: _Open, event: Event) -> None:
        card = here.card
        if card.handed_in_at is None:
            return
        made_before = card.handed_in_device_id == self.device.pk and event.seq < (
            card.handed_in_seq or 0
        )
        if not made_before:
            raise EventRefused(
                "card-handed-in", "The card was handed in before; the office decides."
            )

    def _standing(self, row: CardMark | Remark | None) -> Standing | None:
        if row is None:
            return None
        given = row.text if isinstance(row, Remark) else row.as_value()
        return Standing(row.device_id, row.seq, given, row.device_id in self._shut_out)

    def _mark(self, event: Event, row: RoundEvent) -> None:
        here = self._card_of(event)
        criterion = here.rows.get(event.criterion or "")
        if criterion is None:
            raise EventRefused(
                "criterion-not-yours", "That row is not among the sections this judge has here."
            )
        if event.mark is not None:
            try:
                values.check_mark(criterion.as_value(), here.facts, event.mark)
            except values.MarkRefused as refused:
                raise EventRefused(refused.code, str(refused)) from refused
        self._demand_open(here, event)
        mark = here.marks.get(criterion.code)
        if not takes_effect(
            self._standing(mark), device=self.device.pk, seq=event.seq, given=event.mark
        ):
            return
        if mark is None:
            mark = CardMark(card=here.card, criterion=criterion, version=0)
            here.marks[criterion.code] = mark
        mark.state = event.mark.state.value if event.mark else EMPTY
        mark.value = event.mark.value if event.mark else None
        mark.version += 1
        mark.device, mark.seq, mark.event = self.device, event.seq, row
        self._touched_marks[here.entry.pk, criterion.code] = mark
        self._touched_cards.add(here.entry.pk)

    def _remark(self, event: Event, row: RoundEvent) -> None:
        here = self._card_of(event)
        section = here.sections.get(event.section or "")
        if section is None:
            raise EventRefused(
                "section-not-yours", "That section is not among those this judge has here."
            )
        self._demand_open(here, event)
        remark = here.remarks.get(section.code)
        if not takes_effect(
            self._standing(remark), device=self.device.pk, seq=event.seq, given=event.text
        ):
            return
        if remark is None:
            remark = Remark(card=here.card, section=section)
            here.remarks[section.code] = remark
        remark.text, remark.device, remark.seq, remark.event = (
            event.text,
            self.device,
            event.seq,
            row,
        )
        self._touched_remarks[here.entry.pk, section.code] = remark
        self._touched_cards.add(here.entry.pk)

    def _concern(self, event: Event, row: RoundEvent) -> None:
        here = self._card_of(event)
        criterion = here.rows.get(event.criterion or "") if event.criterion else None
        if event.degree is None:
            raise EventRefused("unreadable", "A concern is stop, mend or note.")
        concern = SafetyConcern(
            judge=self.judge,
            entry=here.entry,
            criterion=criterion,
            degree=event.degree.value,
            text=event.text,
            raised_at=self.at,
            event=row,
        )
        self._after.append(concern.save)

    def _hand_in(self, event: Event, row: RoundEvent) -> None:
        """Hand the card in, now or as soon as its last mark has arrived."""
        self._card_of(event)
        row.applied, row.reason_code = False, ROWS_MISSING
        row.reason = "Rows of this card are still without a mark; it is handed in when they are in."
        self._hand_ins.append(row)

    def _answer(self, event: Event, row: RoundEvent) -> None:
        question = (
            Question.objects.filter(pk=event.question or 0, judge=self.judge)
            .select_related("entry", "criterion", "judge__show")
            .first()
        )
        if question is None:
            raise EventRefused("question-unknown", "There is no such question to this judge.")
        if question.state != Question.State.OPEN or question.pk in self._answered:
            raise EventRefused("question-answered", "This question was answered before.")
        here = self.open.get(question.entry_id)
        mark = here.marks.get(question.criterion.code) if here else None
        if here is None or mark is None:
            raise EventRefused("question-stale", "The mark asked about is gone.")
        value = event.mark.value if event.mark else None
        if event.verdict == "correct":
            try:
                values.check_mark(
                    question.criterion.as_value(),
                    here.facts,
                    values.Mark(values.MarkState.MARKED, value),
                )
            except values.MarkRefused as refused:
                raise EventRefused(refused.code, str(refused)) from refused
            mark.state, mark.value = values.MarkState.MARKED.value, value
            mark.version += 1
            mark.device, mark.seq, mark.event = self.device, event.seq, row
            self._touched_marks[here.entry.pk, question.criterion.code] = mark
            self._touched_cards.add(here.entry.pk)
        self._answered.add(question.pk)
        verdict, text = event.verdict or "", event.text

        def finish() -> None:
            settle_answer(
                question=question,
                verdict=verdict,
                value=value,
                reason=text,
                by=self.judge.person,
                at=self.at,
                device=str(self.device),
            )

        self._after.append(finish)

    # --- writing ----------------------------------------------------------------------
    def save(self, rows: Iterable[RoundEvent]) -> None:
        """Write events, cards, marks and remarks; then hand in what is complete."""
        self._settle_hand_ins()
        RoundEvent.objects.bulk_create(rows)
        touched = {self.open[pk].card.entry_id: self.open[pk].card for pk in self._touched_cards}
        for card in touched.values():
            if card.pk is None:
                card.save()
        _write(CardMark, self._touched_marks.values(), MARK_FIELDS)
        _write(Remark, self._touched_remarks.values(), REMARK_FIELDS)
        if touched:
            sections = {row.section_id for here in self.open.values() for row in here.rows.values()}
            Scorecard.objects.filter(sections__in=sections, frozen_at__isnull=True).update(
                frozen_at=self.at
            )
        for finish in self._after:
            finish()

    def _settle_hand_ins(self) -> None:
        """A hand-in that came before its last marks takes effect when they are there."""
        waiting = RoundEvent.objects.filter(
            device=self.device,
            kind=Kind.HAND_IN.value,
            applied=False,
            reason_code=ROWS_MISSING,
            settled_at__isnull=True,
        )
        for row in [*waiting, *self._hand_ins]:
            here = self.open.get(int(row.body["entry"]))
            if here is None or here.lacking():
                continue
            stored = row not in self._hand_ins
            row.applied, row.reason_code, row.reason = True, "", ""
            if here.card.handed_in_at is None:
                here.card.handed_in_at = self.at
                here.card.handed_in_device, here.card.handed_in_seq = self.device, row.seq
                self._after.insert(0, here.card.save)
                self._touched_cards.add(here.entry.pk)
            if stored:
                self._after.append(row.save)


def _write(model: type[Any], touched: Iterable[Any], fields: Sequence[str]) -> None:
    """Add new rows and change old ones."""
    rows = list(touched)
    for row in rows:
        row.card_id = row.card.pk
    model.objects.bulk_create(row for row in rows if row.pk is None)
    model.objects.bulk_update((row for row in rows if row.pk), fields)
