"""A judge's cards on the table while a batch of their events is worked through.

What the batch speaks of is fetched once, weighed in memory by the rules, and written once;
how large the show is, and how far the judge has come, makes no difference.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import datetime
from functools import cached_property

from django.db.models import Q

from judging.actions.answer_question import MARK_ASIDE, settle_answer
from judging.actions.open_cards import Given, OpenCard, lay_out, write_marks
from judging.actions.reform_cards import set_aside
from judging.actions.reported_rigs import ReportedRigs
from judging.models import (
    Card,
    CardMark,
    Criterion,
    Device,
    Judge,
    Question,
    Remark,
    RigReport,
    RoundEvent,
    SafetyConcern,
    Scorecard,
)
from judging.rules.cards import scorecard as values
from judging.rules.round.events import Event, EventRefused, Kind, read_event
from judging.rules.round.merge import Standing, takes_effect

ROWS_MISSING = "rows-missing"
NOT_ON_RIG = "criterion-not-on-rig"
REMARK_FIELDS = ("text", "device", "seq", "event")
CHANGED_FIELDS = ("rig", "handed_in_at", "handed_in_device", "handed_in_seq")


class Desk:
    """Applies events to cards; whatever cannot take effect raises `EventRefused`.

    `held` are this phone's marks that were held because the rig does not have the row; a
    report of another rig has them weighed again.
    """

    def __init__(
        self,
        *,
        judge: Judge,
        device: Device,
        entries: Iterable[int],
        held: Iterable[RoundEvent] = (),
        at: datetime,
    ) -> None:
        self.judge, self.device, self.at = judge, device, at
        self.open: dict[int, OpenCard] = {}
        self._held = list(held)
        self._rigs = ReportedRigs(judge, device, at, lambda: self._shut_out)
        self._unfrozen: set[int] = set()
        self._touched_marks: dict[tuple[int, str], Given] = {}
        self._touched_remarks: dict[tuple[int, int], Remark] = {}
        self._touched_cards: set[int] = set()
        self._reformed: set[int] = set()
        self._reopened: set[int] = set()
        self._after: list[Callable[[], None]] = []
        self._hand_ins: list[RoundEvent] = []
        self._answered: set[int] = set()
        self._lay_out(entries, self._written_by_others())

    # --- reading ----------------------------------------------------------------------
    def _written_by_others(self) -> Q:
        """Where the office, or another phone, may have written since this phone's last receipt.

        Each batch brings a new receipt of those cards.
        """
        marks = CardMark.objects.filter(card__judge=self.judge).exclude(device=self.device)
        state = RigReport.State
        not_here = ~Q(device=self.device) | Q(state=state.DECLINED)
        told = (Q(judge=self.judge) & not_here) | Q(state=state.ADOPTED)
        rigs = RigReport.objects.filter(told, judge__show=self.judge.show_id)
        return Q(card__in=marks.order_by().values("card")) | Q(
            card__entry__in=rigs.order_by().values("entry")
        )

    def _lay_out(self, entries: Iterable[int], more: Q | None = None) -> None:
        """Lay out further cards of the judge."""
        opened, unfrozen = lay_out(self.judge, entries, more)
        self.open.update(opened)
        self._unfrozen |= unfrozen

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
            Kind.OPEN: self._open,
            Kind.MARK: self._mark,
            Kind.CLEAR: self._mark,
            Kind.REMARK: self._remark,
            Kind.CONCERN: self._concern,
            Kind.HAND_IN: self._hand_in,
            Kind.ANSWER: self._answer,
            Kind.RIG: self._rig,
        }[event.kind](event, row)

    @staticmethod
    def _open(event: Event, row: RoundEvent) -> None:
        """Only tell when the judge came to the wagon; no card changes, so it never waits."""

    def _card_of(self, event: Event) -> OpenCard:
        here = self.open.get(event.entry or 0)
        if here is None:
            raise EventRefused("not-your-card", "This judge has no card for that entry.")
        return here

    def _demand_open(self, here: OpenCard, event: Event) -> None:
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

    def _standing(self, row: Given | Remark | None) -> Standing | None:
        if row is None:
            return None
        given = row.text if isinstance(row, Remark) else row.mark
        others = row.device_id is not None and row.device_id != self.device.pk
        return Standing(row.device_id, row.seq, given, others and row.device_id in self._shut_out)

    def _give(self, here: OpenCard, criterion: Criterion, event: Event, row: RoundEvent) -> None:
        """Put the event's mark onto the row, in place of whatever stands there."""
        before = here.marks.get(criterion.code)
        version = before.version + 1 if before else 1
        given = Given(
            criterion.pk, event.mark, self.device.pk, event.seq, version=version, event=row
        )
        here.marks[criterion.code] = given
        self._touched_marks[here.card.entry_id, criterion.code] = given
        self._touched_cards.add(here.card.entry_id)

    def _check(self, here: OpenCard, criterion: Criterion, event: Event) -> None:
        """Refuse a mark the row cannot take, on the rig by which the phone showed the card."""
        assert event.mark is not None
        row, facts = criterion.as_value(), here.entered
        if not row.is_for(facts):
            had = self._rigs.had(here, event.seq)
            facts = next((dict(rig) for rig in had if row.is_for(rig)), facts)
        try:
            values.check_mark(row, facts, event.mark, here.forms[criterion.section_id])
        except values.MarkRefused as refused:
            raise EventRefused(refused.code, str(refused)) from refused

    def _mark(self, event: Event, row: RoundEvent) -> None:
        here = self._card_of(event)
        criterion = here.rows.get(event.criterion or "")
        if criterion is None:
            raise EventRefused(
                "criterion-not-yours", "That row is not among the sections this judge has here."
            )
        if event.mark is not None:
            self._check(here, criterion, event)
        self._demand_open(here, event)
        before = here.marks.get(criterion.code)
        # What is kept of an earlier version of the row does not stand in the way of this one.
        standing = self._standing(
            before if before and before.criterion_id == criterion.pk else None
        )
        if takes_effect(standing, device=self.device.pk, seq=event.seq, given=event.mark):
            self._give(here, criterion, event, row)

    def _rig(self, event: Event, row: RoundEvent) -> None:
        """Let the card go by the rig the judge found; marks held for that rig are weighed again."""
        here = self._card_of(event)
        self._demand_open(here, event)
        if self._rigs.report(here, event, row):
            self._reformed.add(here.card.entry_id)
            self._touched_cards.add(here.card.entry_id)
        for held in list(self._held):
            touch = read_event(held.body)
            if touch.entry != event.entry:
                continue
            try:
                self._mark(touch, held)
            except EventRefused as refused:
                again = (False, refused.code, str(refused)[:300])
            else:
                again = (True, "", "")
                self._held.remove(held)
            if again != (held.applied, held.reason_code, held.reason):
                held.applied, held.reason_code, held.reason = again
                self._after.append(held.save)

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
        self._wait(row)
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
        here, code = self.open.get(question.entry_id), question.criterion.code
        if here is None or code not in here.marks:
            raise EventRefused("question-stale", "The mark asked about is gone.")
        value = event.mark.value if event.mark else None
        if event.verdict == "correct":
            self._correct(here, here.rows.get(code, question.criterion), event, row)
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

    def _correct(self, here: OpenCard, criterion: Criterion, event: Event, row: RoundEvent) -> None:
        """Put the mark a judge gives in answer to a question, where the row still counts."""
        if here.is_aside(criterion.code):
            raise EventRefused("mark-aside", MARK_ASIDE)
        form = here.forms.get(criterion.section_id, values.Form.POINTS)
        value = event.mark.value if event.mark else None
        try:
            values.check_mark(
                criterion.as_value(),
                here.facts,
                values.Mark(values.MarkState.MARKED, value),
                form,
            )
        except values.MarkRefused as refused:
            raise EventRefused(refused.code, str(refused)) from refused
        self._give(here, criterion, event, row)

    # --- writing ----------------------------------------------------------------------
    def save(self, rows: Iterable[RoundEvent], *, waiting: Sequence[RoundEvent]) -> None:
        """Write events, cards, marks and remarks; then hand in what is complete.

        `waiting` are hand-ins that came before and lacked rows then.
        """
        self._reopen()
        self._settle_hand_ins(waiting)
        RoundEvent.objects.bulk_create(rows)
        touched = [self.open[entry_id].card for entry_id in self._touched_cards]
        reformed = [self.open[entry_id].card for entry_id in self._reformed]
        changed = [self.open[entry_id].card for entry_id in self._reformed | self._reopened]
        Card.objects.bulk_update([card for card in changed if card.pk], CHANGED_FIELDS)
        Card.objects.bulk_create(card for card in touched if card.pk is None)
        write_marks(self.open, self._touched_marks)
        self._write_remarks()
        self._rigs.save()
        set_aside({card.pk: self.open[card.entry_id].facts for card in reformed})
        if touched and self._unfrozen:
            begun = Scorecard.objects.filter(pk__in=self._unfrozen, frozen_at__isnull=True)
            begun.update(frozen_at=self.at)
        for finish in self._after:
            finish()

    def _write_remarks(self) -> None:
        touched = list(self._touched_remarks.values())
        for remark in touched:
            remark.card_id = remark.card.pk
        changed = [remark for remark in touched if remark.pk]
        Remark.objects.bulk_create(remark for remark in touched if not remark.pk)
        Remark.objects.bulk_update(changed, REMARK_FIELDS)

    def _reopen(self) -> None:
        """Let a hand-in wait again where a touch made before it, arriving late, left rows empty."""
        touched = [self.open[entry_id] for entry_id in self._touched_cards]
        short = [here for here in touched if here.card.handed_in_at and here.lacking()]
        if not short:
            return
        seqs = [here.card.handed_in_seq or 0 for here in short]
        made = RoundEvent.objects.filter(device=self.device, kind=Kind.HAND_IN.value)
        for row in made.filter(seq__in=seqs):
            self._wait(row)
            self._after.append(row.save)
        for here in short:
            self._reopened.add(here.card.entry_id)
            here.card.handed_in_at = here.card.handed_in_device = here.card.handed_in_seq = None

    @staticmethod
    def _wait(row: RoundEvent) -> None:
        row.applied, row.reason_code = False, ROWS_MISSING
        row.reason = "Rows of this card are still without a mark; it is handed in when they are in."

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
