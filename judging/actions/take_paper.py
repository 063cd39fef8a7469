"""What a paper card says becomes events of the judge's paper, as a second phone would send them."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any, NamedTuple

from django.db.models import Max

from judging.actions.record_events import Outcome, record_events
from judging.models import Card, CardMark, Device, Judge, PaperCard, Remark, RoundEvent
from judging.models.card import EMPTY
from judging.models.device import PAPER_TOKEN
from judging.rules.round.card_hash import plain_number
from judging.rules.round.events import Kind
from judging.rules.round.keying import (
    CONCERN,
    CONCERN_WORDS,
    LEFT_EMPTY,
    REMARK,
    ROW,
    SIGNED,
    YES,
    letters_of,
    mark_of,
)
from showrun.shows.models import Person


class PutIn(NamedTuple):
    """What became of a paper card's values."""

    applied: int
    held: int
    handed_in: bool
    lacking: int


def paper_of(judge: Judge, at: datetime) -> Device:
    """Return the device that stands for the judge's cards on paper; it has no token."""
    device, _ = Device.objects.get_or_create(
        token_hash=f"{PAPER_TOKEN}{judge.pk}",
        defaults={"judge": judge, "label": "Paper card", "paired_at": at},
    )
    return device


def _paper_held(judge: Judge, at: datetime) -> Device:
    """Lock the judge's paper, so that two cards do not count on from one number."""
    _hold_judge(judge)
    return paper_of(judge, at)


def _hold_judge(judge: Judge) -> None:
    """Let the judge's phones wait, as they wait for each other."""
    Judge.objects.select_for_update().values_list("pk").get(pk=judge.pk)


def put_in(
    *, card: PaperCard, given: Mapping[str, str], people: Sequence[Person], at: datetime
) -> PutIn:
    """Send marks, remarks and the concern, then the hand-in if the card is whole and signed.

    Each event has the id its place on the card gives it, so that asking again adds nothing.
    """
    device = _paper_held(card.judge, at)
    bodies = [
        *_marks(card, given),
        *_remarks(card, given),
        *_taken_back(card, device, given),
        *_concern(card, given),
    ]
    outcomes, desk = record_events(device=device, events=_sent(device, bodies, people), at=at)
    here = desk.open.get(card.entry_id)
    lacking = len(here.lacking()) if here else 0
    hand_in = _body(card, Kind.HAND_IN, "hand-in")
    if here and not lacking and given.get(SIGNED) == YES and _wanted(hand_in, here.card):
        outcomes += record_events(device=device, events=_sent(device, [hand_in], people), at=at)[0]
    handed_in = Card.objects.filter(
        judge=card.judge_id, entry=card.entry_id, handed_in_at__isnull=False
    ).exists()
    return PutIn(
        applied=len(outcomes) - _count_held(outcomes),
        held=_count_held(outcomes),
        handed_in=handed_in,
        lacking=lacking,
    )


def _wanted(hand_in: Mapping[str, Any], card: Card) -> bool:
    """Say whether the card is not in yet, or is in by this very hand-in."""
    return (
        card.handed_in_at is None or RoundEvent.objects.filter(pk=uuid.UUID(hand_in["id"])).exists()
    )


def give_back(card: PaperCard) -> bool:
    """Open the judge's card again if its paper handed it in; say whether it did."""
    _hold_judge(card.judge)
    handed_in = Card.objects.filter(
        judge=card.judge_id,
        entry=card.entry_id,
        handed_in_device__token_hash=f"{PAPER_TOKEN}{card.judge_id}",
    )
    return handed_in.open_again() > 0


def put_in_concern(
    *, card: PaperCard, given: Mapping[str, str], people: Sequence[Person], at: datetime
) -> None:
    """Raise the safety concern on the card, once however often it is keyed in these words."""
    bodies = list(_concern(card, given))
    if bodies:
        device = _paper_held(card.judge, at)
        record_events(device=device, events=_sent(device, bodies, people), at=at)


def _count_held(outcomes: Iterable[Outcome]) -> int:
    """Count what waits for the office, now or since it was sent before."""
    return sum(bool(outcome.code) for outcome in outcomes)


def _body(
    card: PaperCard, kind: Kind, what: str, *, once: bool = False, **fields: Any
) -> dict[str, Any]:
    """Return an event's body, with the id its place on this card gives it.

    `once`: the same whether the card was started over or not.
    """
    name = f"paper card {card.pk} {'' if once else card.edition} {what}"
    return {
        "id": str(uuid.uuid5(uuid.NAMESPACE_OID, name)),
        "kind": kind.value,
        "entry": card.entry_id,
        "source": "paper",
        "paper_card": card.pk,
        **fields,
    }


def _marks(card: PaperCard, given: Mapping[str, str]) -> Iterator[dict[str, Any]]:
    for place, text in given.items():
        mark = mark_of(text) if place.startswith(ROW) else None
        if mark is None:
            continue
        value = None if mark.value is None else plain_number(mark.value)
        row = place.removeprefix(ROW)
        yield _body(card, Kind.MARK, place, criterion=row, state=mark.state.value, value=value)


def _remarks(card: PaperCard, given: Mapping[str, str]) -> Iterator[dict[str, Any]]:
    for place, text in given.items():
        if place.startswith(REMARK) and text:
            section = place.removeprefix(REMARK)
            yield _body(card, Kind.REMARK, place, section=section, text=text)


def _taken_back(
    card: PaperCard, device: Device, given: Mapping[str, str]
) -> Iterator[dict[str, Any]]:
    """Take back what an earlier keying of this card gave where the paper has nothing."""
    if card.edition == 1:
        return
    here = {"card__judge": card.judge_id, "card__entry": card.entry_id, "device": device}
    marks = CardMark.objects.filter(**here).exclude(state=EMPTY).select_related("criterion")
    for row in sorted(mark.criterion.code for mark in marks):
        if given.get(ROW + row) == LEFT_EMPTY:
            yield _body(card, Kind.CLEAR, ROW + row, criterion=row)
    remarks = Remark.objects.filter(**here).exclude(text="").select_related("section")
    for section in sorted(remark.section.code for remark in remarks):
        if given.get(REMARK + section) == "":
            yield _body(card, Kind.REMARK, REMARK + section, section=section, text="")


def _concern(card: PaperCard, given: Mapping[str, str]) -> Iterator[dict[str, Any]]:
    degree, words = given.get(CONCERN), given.get(CONCERN_WORDS, "")
    if degree:
        said = f"{CONCERN} {degree} {letters_of(words)}"
        fields = {"degree": degree, "text": words, "criterion": None}
        yield _body(card, Kind.CONCERN, said, once=True, **fields)


def _sent(
    device: Device, bodies: Sequence[dict[str, Any]], people: Sequence[Person]
) -> list[dict[str, Any]]:
    """Number the bodies on in the paper's own count; what was sent before goes as it was sent."""
    kept = RoundEvent.objects.in_bulk([uuid.UUID(body["id"]) for body in bodies])
    last = RoundEvent.objects.filter(device=device).aggregate(last=Max("seq"))["last"] or 0
    keyed_by = [{"id": person.pk, "name": person.name} for person in people]
    sent = []
    for body in bodies:
        before = kept.get(uuid.UUID(body["id"]))
        if before is not None:
            sent.append(before.body)
            continue
        last += 1
        sent.append({**body, "seq": last, "keyed_by": keyed_by})
    return sent
