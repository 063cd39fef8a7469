"""A judge's cards on the table while a batch of their events is worked through.

What the batch speaks of is fetched once, weighed in memory by the rules, and written once;
how large the show is, and how far the judge has come, makes no difference.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property

from django.db.models import Q

from entries.rules.rig import FACTS
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
)
from judging.models.card import EMPTY
from judging.rules.cards import scorecard as values
from judging.rules.cards.condition import applies
from judging.rules.round.card_hash import card_hash
from judging.rules.round.events import Event, EventRefused, Kind
from judging.rules.round.merge import Standing, takes_effect

ROWS_MISSING = "rows-missing"
MARK_FIELDS = ("state", "value", "version", "device", "seq", "event")
REMARK_FIELDS = ("text", "device", "seq", "event")
_FREEZING = ("section__scorecard_id", "section__scorecard__frozen_at")
_RIG = tuple(f"entry__{fact}" for fact in FACTS)


@dataclass
class _Given:
    """A row's mark as it stands (None: taken back), and the touch that gave it."""

    mark: values.Mark | None
    device_id: int | None
    seq: int
    version: int
    event: RoundEvent | None = None


@dataclass
class _Open:
    """A card in work: the rig and sections of its entry, and the marks as they stand."""

    card: Card
    facts: dict[str, str]
    sections: dict[str, int] = field(default_factory=dict)
    rows: dict[str, Criterion] = field(default_factory=dict)
    marks: dict[str, _Given] = field(default_factory=dict)

    def values(self) -> dict[str, values.Mark]:
        """Return the marks as the rules know them."""
        return {code: given.mark for code, given in self.marks.items() if given.mark is not None}

    def lacking(self) -> list[str]:
        """Return the rows of this rig that have no mark yet."""
        given = self.values()
        return [
            code
            for code, row in self.rows.items()
            if code not in given and applies(row.applies, self.facts)
        ]

    def hash(self) -> str:
        """Return the fingerprint the phone compares with its own."""
        return card_hash(self.values())


def _rows(sections: Collection[int]) -> dict[int, dict[str, Criterion]]:
    """Return the rows of sections by section and code."""
    found: dict[int, dict[str, Criterion]] = defaultdict(dict)
    for row in Criterion.objects.filter(section__in=sections).order_by("position"):
        found[row.section_id][row.code] = row
    return found


class Desk:
    """Applies events to cards; whatever cannot take effect raises `EventRefused`."""

    def __init__(
        self, *, judge: Judge, device: Device, entries: Iterable[int], at: datetime
    ) -> None:
        self.judge, self.device, self.at = judge, device, at
        self.open: dict[int, _Open] = {}
        self._unfrozen: set[int] = set()
        self._touched_marks: dict[tuple[int, int], _Given] = {}
        self._touched_remarks: dict[tuple[int, int], Remark] = {}
        self._touched_cards: set[int] = set()
        self._after: list[Callable[[], None]] = []
        self._hand_ins: list[RoundEvent] = []
        self._answered: set[int] = set()
        # The office, or another phone, may have written on a card since this phone's last
        # receipt for it: each batch brings a new one.
        others = CardMark.objects.filter(card__judge=judge).exclude(device=device)
        self._lay_out(entries, Q(card__in=others.order_by().values("card")))

    # --- reading ----------------------------------------------------------------------
    def _lay_out(self, entries: Iterable[int], more: Q | None = None) -> None:
        """Lay out the judge's cards of these entries, and those where marks are as `more` says.

        It takes as many reads for many as for few.
        """
        wanted = set(entries)
        here = Q(card__entry__in=wanted)
        marks = self._marks(here | more if more else here)
        wanted.update(marks)
        if not wanted:
            return
        seats = Seat.objects.filter(judge=self.judge, entry__in=wanted).order_by()
        columns = ("entry_id", "section_id", "section__code", *_FREEZING, *_RIG)
        found = list(seats.values_list(*columns))
        rows = _rows({section_id for _, section_id, *_ in found})
        cards = Card.objects.filter(judge=self.judge, entry__in=wanted)
        begun = {card.entry_id: card for card in cards}
        for entry_id, section_id, code, scorecard_id, frozen_at, *facts in found:
            card = begun.get(entry_id) or Card(judge=self.judge, entry_id=entry_id)
            rig = dict(zip(FACTS, facts, strict=True))
            opened = self.open.setdefault(entry_id, _Open(card, rig, marks=marks[entry_id]))
            opened.sections[code] = section_id
            opened.rows.update(rows[section_id])
            if frozen_at is None:
                self._unfrozen.add(scorecard_id)

    def _marks(self, wanted: Q) -> dict[int, dict[str, _Given]]:
        """Return marks of the judge's cards by entry and row."""
        found: dict[int, dict[str, _Given]] = defaultdict(dict)
        # As bare columns: a batch changes few of the rows that stand on a card.
        for entry_id, code, state, value, device_id, seq, version in CardMark.objects.filter(
            wanted, card__judge=self.judge
        ).values_list(
            "card__entry_id", "criterion__code", "state", "value", "device_id", "seq", "version"
        ):
            mark = None if state == EMPTY else values.Mark(values.MarkState(state), value)
            found[entry_id][code] = _Given(mark, device_id, seq, version)
        return found

    @cached_property
    def _shut_out(self) -> set[int]:
        """The judge's phones that no longer count, read when another phone's touch is met."""
        gone = Device.objects.filter(judge=self.judge, revoked_at__isnull=False)
        return set(gone.order_by().values_list("pk", flat=True))

    @cached_property
    def _remarks(self) -> dict[tuple[int, int], Remark]:
        """The judge's remarks by entry and section, read when the first is spoken of."""
        found = Remark.objects.filter(card__judge=self.judge).select_related("card")
        return {(remark.card.entry_id, remark.section_id): remark for remark in found}

    # --- applying ---------------------------------------------------------------------
    def apply(self, event: Event, row: RoundEvent) -> None:
        """Let one event take effect, or raise `EventRefused`."""
        if self.device.revoked_at:
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

    def _standing(self, row: _Given | Remark | None) -> Standing | None:
        if row is None:
            return None
        given = row.text if isinstance(row, Remark) else row.mark
        others = row.device_id is not None and row.device_id != self.device.pk
        return Standing(row.device_id, row.seq, given, others and row.device_id in self._shut_out)

    def _give(self, here: _Open, criterion: Criterion, event: Event, row: RoundEvent) -> None:
        """Put the event's mark onto the row, in place of whatever stands there."""
        before = here.marks.get(criterion.code)
        version = before.version + 1 if before else 1
        given = _Given(event.mark, self.device.pk, event.seq, version, row)
        here.marks[criterion.code] = given
        self._touched_marks[here.card.entry_id, criterion.pk] = given
        self._touched_cards.add(here.card.entry_id)

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
        standing = self._standing(here.marks.get(criterion.code))
        if takes_effect(standing, device=self.device.pk, seq=event.seq, given=event.mark):
            self._give(here, criterion, event, row)

    def _remark(self, event: Event, row: RoundEvent) -> None:
        here = self._card_of(event)
        section_id = here.sections.get(event.section or "")
        if section_id is None:
            raise EventRefused(
                "section-not-yours", "That section is not among those this judge has here."
            )
        self._demand_open(here, event)
        spoken_of = (here.card.entry_id, section_id)
        remark = self._remarks.get(spoken_of)
        if not takes_effect(
            self._standing(remark), device=self.device.pk, seq=event.seq, given=event.text
        ):
            return
        if remark is None:
            remark = self._remarks[spoken_of] = Remark(card=here.card, section_id=section_id)
        remark.text, remark.device, remark.seq, remark.event = (
            event.text,
            self.device,
            event.seq,
            row,
        )
        self._touched_remarks[spoken_of] = remark
        self._touched_cards.add(here.card.entry_id)

    def _concern(self, event: Event, row: RoundEvent) -> None:
        here = self._card_of(event)
        criterion = here.rows.get(event.criterion or "") if event.criterion else None
        if event.degree is None:
            raise EventRefused("unreadable", "A concern is stop, mend or note.")
        concern = SafetyConcern(
            judge=self.judge,
            entry_id=here.card.entry_id,
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
        if question.entry_id not in self.open:
            self._lay_out({question.entry_id})
        here = self.open.get(question.entry_id)
        if here is None or question.criterion.code not in here.marks:
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
            self._give(here, question.criterion, event, row)
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
    def save(self, rows: Iterable[RoundEvent], *, waiting: Sequence[RoundEvent]) -> None:
        """Write events, cards, marks and remarks; then hand in what is complete.

        `waiting` are hand-ins that came before and lacked rows then.
        """
        self._settle_hand_ins(waiting)
        RoundEvent.objects.bulk_create(rows)
        touched = [self.open[entry_id].card for entry_id in self._touched_cards]
        Card.objects.bulk_create(card for card in touched if card.pk is None)
        self._write_marks()
        self._write_remarks()
        if touched and self._unfrozen:
            begun = Scorecard.objects.filter(pk__in=self._unfrozen, frozen_at__isnull=True)
            begun.update(frozen_at=self.at)
        for finish in self._after:
            finish()

    def _write_marks(self) -> None:
        """Write the marks given, new and changed ones in one statement."""
        CardMark.objects.bulk_create(
            (
                CardMark(
                    card=self.open[entry_id].card,
                    criterion_id=criterion_id,
                    state=given.mark.state.value if given.mark else EMPTY,
                    value=given.mark.value if given.mark else None,
                    version=given.version,
                    device_id=given.device_id,
                    seq=given.seq,
                    event=given.event,
                )
                for (entry_id, criterion_id), given in self._touched_marks.items()
            ),
            update_conflicts=True,
            unique_fields=("card", "criterion"),
            update_fields=MARK_FIELDS,
        )

    def _write_remarks(self) -> None:
        touched = list(self._touched_remarks.values())
        for remark in touched:
            remark.card_id = remark.card.pk
        changed = [remark for remark in touched if remark.pk]
        Remark.objects.bulk_create(remark for remark in touched if not remark.pk)
        Remark.objects.bulk_update(changed, REMARK_FIELDS)

    def _settle_hand_ins(self, waiting: Sequence[RoundEvent]) -> None:
        """A hand-in that came before its last marks takes effect when they are there."""
        unopened = {int(row.body["entry"]) for row in waiting} - self.open.keys()
        if unopened:
            self._lay_out(unopened)
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
                self._touched_cards.add(here.card.entry_id)
            if stored:
                self._after.append(row.save)
