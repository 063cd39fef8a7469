"""A judge's cards on the table while a batch of their events is worked through.

What the batch speaks of is fetched once, weighed in memory by the rules, and written once;
how large the show is, and how far the judge has come, makes no difference.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime
from functools import cached_property, partial

from django.db.models import Q

from judging.actions.answer_on_phone import cards_given_back, keep_answer, question_answered
from judging.actions.answer_question import MARK_ASIDE, entries_asked_about
from judging.actions.hand_ins import HandIns
from judging.actions.open_cards import Given, OpenCard, lay_out, write_marks
from judging.actions.reform_cards import set_aside
from judging.actions.reported_rigs import ReportedRigs
from judging.models import (
    Card,
    CardMark,
    Criterion,
    Device,
    Judge,
    Remark,
    RigReport,
    RoundEvent,
    SafetyConcern,
    Scorecard,
)
from judging.queries.lateness import WindowEnd, papers_keyed_anew, signed_cards, window_end
from judging.rules.cards import scorecard as values
from judging.rules.round.events import Event, EventRefused, Kind, read_event
from judging.rules.round.lateness import Limits, demand_in_time
from judging.rules.round.merge import Standing, takes_effect

NOT_ON_RIG = "criterion-not-on-rig"
REMARK_FIELDS = ("text", "device", "seq", "event")
CHANGED_FIELDS = ("rig", "handed_in_at", "handed_in_device", "handed_in_seq")


class Desk:
    """Applies events to cards; whatever cannot take effect raises `EventRefused`.

    `held` are this phone's marks that were held because the rig does not have the row; a
    report of another rig has them weighed again. `late` lets touches count that come too late,
    as the office decided.
    """

    def __init__(
        self,
        *,
        judge: Judge,
        device: Device,
        entries: Iterable[int],
        held: Iterable[RoundEvent] = (),
        late: bool = False,
        at: datetime,
    ) -> None:
        self.judge, self.device, self.at = judge, device, at
        self._takes_late = late
        self.open: dict[int, OpenCard] = {}
        self._held = list(held)
        self._rigs = ReportedRigs(judge, device, at, lambda: self._shut_out)
        self._unfrozen: set[int] = set()
        self._touched_marks: dict[tuple[int, str], Given] = {}
        self._touched_remarks: dict[tuple[int, int], Remark] = {}
        self._touched_cards: set[int] = set()
        # Changed by touches of the round, so that an earlier hand-in is weighed again.
        self._moved: set[int] = set()
        self._reformed: set[int] = set()
        self._reopened: set[int] = set()
        self._after: list[Callable[[], None]] = []
        self._hand_ins = HandIns(device, at)
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

    @cached_property
    def _window_end(self) -> WindowEnd | None:
        """The end of the judging window, read when the first touch changes a card."""
        return window_end(self.judge.show_id, at=self.at)

    @cached_property
    def _signed(self) -> Mapping[int, datetime]:
        """When results that count these cards were signed, read with the window's end."""
        sections = {entry_id: here.sections.values() for entry_id, here in self.open.items()}
        return signed_cards(self.judge.show_id, sections)

    @cached_property
    def _given_back(self) -> set[int]:
        """Cards put right after a question, or keyed anew: never too late until signed again."""
        return cards_given_back(self.judge) | papers_keyed_anew(self.device)

    # --- applying ---------------------------------------------------------------------
    def apply(self, event: Event, row: RoundEvent) -> None:
        """Let one event take effect, or raise `EventRefused`."""
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

    def _demand_in_time(self, here: OpenCard, event: Event, row: RoundEvent) -> None:
        """Refuse what comes too late; never at practice, and a paper is keyed after the window."""
        if self._takes_late or here.practice:
            return
        end = None if self.device.is_paper else self._window_end
        limits = Limits(self._signed.get(here.card.entry_id), *(end or ()))
        happened_at = row.happened_at or row.received_at
        try:
            demand_in_time(event.kind, limits, happened_at=happened_at, received_at=self.at)
        except EventRefused:
            if here.card.handed_in_at or here.card.entry_id not in self._given_back:
                raise

    def _demand_open(self, here: OpenCard, event: Event, row: RoundEvent) -> None:
        self._demand_in_time(here, event, row)
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
        self._demand_open(here, event, row)
        before = here.marks.get(criterion.code)
        # What is kept of an earlier version of the row does not stand in the way of this one.
        standing = self._standing(
            before if before and before.criterion_id == criterion.pk else None
        )
        if takes_effect(standing, device=self.device.pk, seq=event.seq, given=event.mark):
            self._give(here, criterion, event, row)
            self._moved.add(here.card.entry_id)

    def _rig(self, event: Event, row: RoundEvent) -> None:
        """Let the card go by the rig the judge found; marks held for that rig are weighed again."""
        here = self._card_of(event)
        self._demand_open(here, event, row)
        if self._rigs.report(here, event, row):
            self._reformed.add(here.card.entry_id)
            self._touched_cards.add(here.card.entry_id)
            self._moved.add(here.card.entry_id)
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
        self._demand_open(here, event, row)
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
        """Hand the card in as the judge signed it, now or as soon as its last mark has arrived."""
        self._demand_in_time(self._card_of(event), event, row)
        self._hand_ins.add(row)

    def _answer(self, event: Event, row: RoundEvent) -> None:
        """Answer a question: its mark or its cards may be put right by it."""
        question = question_answered(self.judge, event, self._answered)
        entries = entries_asked_about(question)
        if unopened := set(entries) - self.open.keys():
            self._lay_out(unopened)
        back: list[int] = []
        if question.criterion is not None:
            here, code = self.open.get(entries[0]), question.criterion.code
            if here is None or code not in here.marks:
                raise EventRefused("question-stale", "The mark asked about is gone.")
            if event.verdict == "correct":
                self._correct(here, here.rows.get(code, question.criterion), event, row)
        elif event.verdict == "correct":
            back = self._give_back(entries)
        self._answered.add(question.pk)
        keep = partial(keep_answer, question, event, judge=self.judge, device=str(self.device))
        self._after.append(partial(keep, at=self.at, back=back))

    def _give_back(self, entries: Sequence[int]) -> list[int]:
        """Open cards again for the judge to put right and sign anew; return which were in."""
        if not self.open.keys() >= set(entries):
            raise EventRefused("question-stale", "A card asked about is gone.")
        cards = [self.open[pk].card for pk in entries if self.open[pk].card.handed_in_at]
        for card in cards:
            card.handed_in_at = card.handed_in_device = card.handed_in_seq = None
        self._given_back.update(entries)
        self._reopened |= {card.entry_id for card in cards}
        return [card.entry_id for card in cards]

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

        `waiting` are hand-ins that came before and could not take effect then.
        """
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

    def _settle_hand_ins(self, waiting: Sequence[RoundEvent]) -> None:
        """Open again what is not the card signed any more, and hand in what waited for a touch."""
        opened = self._hand_ins.reopen(self.open[entry_id] for entry_id in self._moved)
        self._reopened |= {here.card.entry_id for here in opened}
        unopened = {int(row.body["entry"]) for row in waiting} - self.open.keys()
        if unopened:
            self._lay_out(unopened)
        for here in self._hand_ins.settle(waiting, self.open):
            self._after.insert(0, here.card.save)
            self._touched_cards.add(here.card.entry_id)
        self._after += [row.save for row in self._hand_ins.changed]
