"""The marks of a show as its events give them, beside those that are kept."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from decimal import Decimal
from functools import cached_property

from judging.models import Card, CardMark, Judge, Question, RoundEvent
from judging.models.card import EMPTY
from judging.queries.marks import CardKey, GivenMarks, JudgedSection
from judging.queries.results import ClassInputs
from judging.queries.rigs import card_facts
from judging.rules.cards.condition import applies
from judging.rules.cards.scorecard import Mark, MarkState
from judging.rules.round.card_hash import plain_number
from judging.rules.round.events import EventRefused, Kind, body_hash, read_event
from judging.rules.round.replay import Row, Touch, replayed
from showrun.shows.models import Show

_MARKED = MarkState.MARKED
# A correction follows the events of its moment.
_LAST = 2**63
HUNDREDTH = Decimal("0.01")
# Stands where a letter came that no database keeps; such a body cannot be fingerprinted again.
REPLACED = "\ufffd"


@dataclass(frozen=True)
class ReplayedMarks(GivenMarks):
    """Marks that count, from events."""

    marks: Mapping[CardKey, dict[str, Mark]] = field(default_factory=dict)

    @cached_property
    def by_card(self) -> dict[CardKey, dict[str, Mark]]:
        """The marks by criterion code, of each card."""
        return dict(self.marks)


@dataclass(frozen=True)
class Replay:
    """A show's round told again from its events and the office's corrections, up to an hour.

    `faults` are sentences on events whose body is not as it was sent, or says nothing.
    """

    show: Show
    marks: dict[Row, Mark | None]
    handed_in: dict[CardKey, set[tuple[int, int]]]
    faults: list[str]

    @classmethod
    def of(cls, show: Show, *, until: datetime | None = None) -> Replay:
        """Read all events of the show once."""
        events = RoundEvent.objects.filter(show=show).select_related("device__judge")
        if until:
            events = events.filter(received_at__lte=until)
        told = _Told(Question.objects.filter(judge__show=show).select_related("criterion"))
        for event in events.order_by("received_at", "seq").iterator(chunk_size=2000):
            told.hear(event)
        return cls(show, replayed(told.in_order(until)), dict(told.handed_in), told.faults)

    def counted(self) -> ReplayedMarks:
        """Return the marks that count on the rows of the card in use."""
        aside = _set_aside(self.show)
        found: dict[CardKey, dict[str, Mark]] = defaultdict(dict)
        for row, mark in self.marks.items():
            if mark is not None and row not in aside:
                found[row.judge, row.entry][row.criterion] = _as_kept(mark)
        return ReplayedMarks({}, found)

    def inputs(self, kept: ClassInputs, *, past: bool = False) -> ClassInputs:
        """Return a class's inputs with the marks of the events in place of those kept.

        `past`: a card counts as handed in if it was by then, whatever became of it since.
        """
        given = self.counted()

        def seat(one: JudgedSection) -> JudgedSection:
            marks = given.by_card.get(one.card, {})
            values = [marks.get(row.code) for row in one.rows if row.weight > 0]
            return one._replace(
                given=given,
                lacking=sum(row.code not in marks for row in one.rows),
                numbered=any(mark is not None and mark.value is not None for mark in values),
                handed_in=one.card in self.handed_in if past else one.handed_in,
            )

        return replace(kept, judged=[seat(one) for one in kept.judged])


class _Told:
    """What the events of a show say, gathered as they came in."""

    def __init__(self, questions: Iterable[Question]) -> None:
        self.faults: list[str] = []
        self.handed_in: dict[CardKey, set[tuple[int, int]]] = defaultdict(set)
        self._questions = {question.pk: question for question in questions}
        self._answered: set[int] = set()
        self._touches: list[tuple[datetime, int, Touch]] = []

    def hear(self, event: RoundEvent) -> None:
        """Take in one event, held ones only to see whether they are as they were sent."""
        fault = _fault(event)
        if fault:
            self.faults.append(fault)
        if not event.applied:
            return
        try:
            told = read_event(event.body)
        except EventRefused as refused:
            self.faults.append(f"{_named(event)} took effect and cannot be read: {refused}")
            return
        judge, entry = event.device.judge_id, told.entry or 0
        if told.kind in (Kind.MARK, Kind.CLEAR):
            self._touch(event, Row(judge, entry, told.criterion or ""), told.mark)
        elif told.kind is Kind.HAND_IN:
            self.handed_in[judge, entry].add((event.device_id, event.seq))
        elif told.kind is Kind.ANSWER and told.verdict == "correct":
            self._answered.add(told.question or 0)
            row = _row_of(self._questions.get(told.question or 0))
            if row:
                self._touch(event, row, told.mark, settles=True)

    def _touch(
        self, event: RoundEvent, row: Row, given: Mark | None, *, settles: bool = False
    ) -> None:
        touch = Touch(row, event.device_id, event.seq, given, settles)
        self._touches.append((event.received_at, event.seq, touch))

    def in_order(self, until: datetime | None) -> Iterator[Touch]:
        """Return the touches with the office's corrections among them, in the order they came."""
        corrected = [
            (question.answered_at, _LAST, Touch(row, None, 0, Mark(_MARKED, question.answer), True))
            for question in self._questions.values()
            if question.state == Question.State.CORRECTED
            and question.pk not in self._answered
            and (row := _row_of(question))
            and question.answered_at
            and (until is None or question.answered_at <= until)
        ]
        every = sorted([*self._touches, *corrected], key=lambda touch: touch[:2])
        return (touch for *_, touch in every)


def _as_kept(mark: Mark) -> Mark:
    """Return the mark with the two decimals of its column, by which it is fingerprinted."""
    return mark if mark.value is None else Mark(mark.state, mark.value.quantize(HUNDREDTH))


def _row_of(question: Question | None) -> Row | None:
    """Return the row a question asks about, None where it is about a card or a day."""
    if question is None or question.criterion is None or question.entry_id is None:
        return None
    return Row(question.judge_id, question.entry_id, question.criterion.code)


def _named(event: RoundEvent) -> str:
    return f"Event {event.pk} ({event.kind} of {event.device.judge.code}, count {event.seq})"


def _fault(event: RoundEvent) -> str:
    """Say what of an event is not as it was sent."""
    body = event.body
    if REPLACED not in str(body) and body_hash(body) != event.body_hash:
        return f"{_named(event)}: its body is not what was sent; it does not match its body_hash."
    told = body if isinstance(body, Mapping) else {}
    if event.applied and (told.get("kind"), told.get("seq")) != (event.kind, event.seq):
        return f"{_named(event)}: its kind or count is not what its body says."
    return ""


def _set_aside(show: Show) -> set[Row]:
    """Return the rows whose mark, as kept, is only aside."""
    marks = CardMark.objects.filter(card__judge__show=show).order_by()
    columns = marks.values_list("card__judge_id", "card__entry_id", "criterion__code", "aside")
    counted: set[Row] = set()
    aside: set[Row] = set()
    for judge, entry, code, is_aside in columns:
        (aside if is_aside else counted).add(Row(judge, entry, code))
    return aside - counted


def mark_differences(replay: Replay) -> list[str]:
    """Name every mark and every hand-in that the events do not explain."""
    return [*_marks_unlike(replay), *_cards_unlike(replay)]


def _words(mark: Mark | None) -> str:
    if mark is None:
        return "no mark"
    if mark.state is MarkState.MARKED:
        return plain_number(mark.value)
    return mark.state.value.replace("_", " ")


def _marks_unlike(replay: Replay) -> Iterator[str]:
    kept: dict[Row, CardMark] = {}
    marks = CardMark.objects.filter(card__judge__show=replay.show)
    found = marks.select_related("card__judge__person", "card__entry", "criterion__section")
    # Where versions of the card left two marks with one code, the one that counts comes first.
    for mark in found.order_by("card__entry__number", "card__judge__code", "aside", "-criterion"):
        row = Row(mark.card.judge_id, mark.card.entry_id, mark.criterion.code)
        kept.setdefault(row, mark)
    in_use = set(
        marks.filter(criterion__section__scorecard__in_use=True).values_list("pk", flat=True)
    )
    for row, mark in kept.items():
        where = f"{mark.card.judge}, wagon {mark.card.entry}, {mark.criterion} ({row.criterion})"
        state = None if mark.state == EMPTY else Mark(MarkState(mark.state), mark.value)
        told = replay.marks.get(row)
        if state != told:
            yield f"{where}: {_words(state)} is kept, the events give {_words(told)}."
        facts = card_facts(mark.card, mark.card.entry)
        if state and mark.pk in in_use and applies(mark.criterion.applies, facts) == mark.aside:
            now = "set aside though the rig has" if mark.aside else "counted though the rig lacks"
            yield f"{where}: the mark is {now} the row."
    judges = Judge.objects.filter(show=replay.show).select_related("person").in_bulk()
    entries = dict(
        Card.objects.filter(judge__show=replay.show)
        .order_by()
        .values_list("entry_id", "entry__number")
    )
    for row in sorted(replay.marks.keys() - kept.keys()):
        told = replay.marks[row]
        if told is not None:
            wagon = entries.get(row.entry) or row.entry
            yield (
                f"{judges[row.judge]}, wagon {wagon}, {row.criterion}: no mark is kept, the "
                f"events give {_words(told)}."
            )


def _cards_unlike(replay: Replay) -> Iterator[str]:
    cards = Card.objects.filter(judge__show=replay.show, handed_in_at__isnull=False)
    for card in cards.select_related("judge__person", "entry").order_by("entry__number"):
        by = (card.handed_in_device_id, card.handed_in_seq)
        if by not in replay.handed_in.get((card.judge_id, card.entry_id), set()):
            yield f"{card.judge}, wagon {card.entry}: the card is in, and no event handed it in."
