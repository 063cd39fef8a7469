"""What the office has of every card and every phone, to be read out against the judge's own."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime

from django.db.models import Count, Max

from entries.models import Entry
from entries.rules.places import Status
from judging.models import Card, Device, Judge, RoundEvent, Seat
from judging.queries.keyed import CardKey, keyed_by_of, names_on_card
from judging.queries.keyings import keyed_from_paper
from judging.queries.marks import GivenMarks
from judging.queries.panel import judges_with_phones
from judging.rules.round.card_hash import card_hash
from judging.rules.round.receipts import Gap, gaps, short_hash
from showrun.shows.models import Show


@dataclass(frozen=True)
class CardReceipt:
    """One card as the office has it; no digits before its first touch came."""

    entry: Entry
    names: str
    digits: str
    marks: int
    handed_in_at: datetime | None
    last_received_at: datetime | None

    @property
    def practice(self) -> bool:
        """Whether it is of the practice wagon, which is never counted."""
        return self.entry.status == Status.PRACTICE


@dataclass(frozen=True)
class PhoneReceipt:
    """How much of a phone's count has arrived."""

    device: Device
    highest: int
    gaps: tuple[Gap, ...] = ()

    @property
    def missing(self) -> int:
        """Touches below the highest number that did not arrive."""
        return sum(gap.size for gap in self.gaps)


@dataclass
class JudgeReceipts:
    """A judge's phones and cards."""

    judge: Judge
    phones: list[PhoneReceipt] = field(default_factory=list)
    cards: list[CardReceipt] = field(default_factory=list)

    @property
    def begun(self) -> list[CardReceipt]:
        """Cards of which a touch has come that changed them."""
        return [card for card in self.cards if card.digits]

    @property
    def not_begun(self) -> list[Entry]:
        """The wagons of the other cards."""
        return [card.entry for card in self.cards if not card.digits]

    @property
    def cards_in(self) -> int:
        """Cards handed in, but for the practice wagon's."""
        return sum(card.handed_in_at is not None for card in self._counted)

    @property
    def cards_expected(self) -> int:
        """Cards there must be."""
        return len(self._counted)

    @property
    def _counted(self) -> list[CardReceipt]:
        return [card for card in self.cards if not card.practice]


def receipts_of(show: Show) -> list[JudgeReceipts]:
    """Return every judge's receipts by code; the number of statements does not grow."""
    judges = judges_with_phones(show)
    found = {judge.pk: JudgeReceipts(judge) for judge in judges}
    for judge in judges:
        found[judge.pk].phones = _phones(judge)
    _count_touches(found.values())
    for (judge_id, _), card in _cards(show, {judge.pk: judge for judge in judges}).items():
        found[judge_id].cards.append(card)
    return list(found.values())


# --- Phones -----------------------------------------------------------------------------------


def _phones(judge: Judge) -> list[PhoneReceipt]:
    return [PhoneReceipt(device, 0) for device in judge.devices.all()]


def _count_touches(judges: Iterable[JudgeReceipts]) -> None:
    """Set how far each phone's count arrived; the numbers are read where some are missing."""
    judges = list(judges)
    there = [phone.device.pk for one in judges for phone in one.phones]
    sent = RoundEvent.objects.filter(device__in=there, seq__gte=1).order_by()
    counted = {
        device_id: (highest, n)
        for device_id, highest, n in sent.values_list("device_id").annotate(
            Max("seq"), Count("seq", distinct=True)
        )
    }
    numbers: dict[int, list[int]] = defaultdict(list)
    short = [device_id for device_id, (highest, n) in counted.items() if highest > n]
    for device_id, seq in sent.filter(device__in=short).values_list("device_id", "seq"):
        numbers[device_id].append(seq)
    for one in judges:
        one.phones = [
            PhoneReceipt(
                phone.device,
                counted.get(phone.device.pk, (0, 0))[0],
                gaps(numbers[phone.device.pk], counts_on=_counts_on(phone.device, one.phones)),
            )
            for phone in one.phones
        ]


def _counts_on(device: Device, phones: Iterable[PhoneReceipt]) -> bool:
    """Say whether the phone may be one that was shut out before and paired anew."""
    return any(
        other.device.revoked_at is not None and other.device.paired_at < device.paired_at
        for other in phones
    )


# --- Cards ------------------------------------------------------------------------------------


def _cards(show: Show, judges: Mapping[int, Judge]) -> dict[CardKey, CardReceipt]:
    """Return a receipt for each card of the panel, the practice wagon's last."""
    statuses = (Status.CONFIRMED.value, Status.PRACTICE.value)
    entries = Entry.objects.filter(show=show, status__in=statuses).in_bulk()
    seats = Seat.objects.filter(
        judge__show=show, section__scorecard__in_use=True, entry__status__in=statuses
    )
    keys = set(seats.order_by().values_list("judge_id", "entry_id"))
    begun = {(card.judge_id, card.entry_id): card for card in Card.objects.filter(judge__in=judges)}
    marks = GivenMarks({card.pk: key for key, card in begun.items()}).by_card
    hands, paper, last = keyed_by_of(show), keyed_from_paper(show), _last_received(show)

    def receipt(key: CardKey) -> CardReceipt:
        card, given = begun.get(key), marks.get(key, {})
        return CardReceipt(
            entry=entries[key[1]],
            names=names_on_card(judges[key[0]].person.name, hands.get(key), paper.get(key, "")),
            digits=short_hash(card_hash(given)) if card else "",
            marks=len(given),
            handed_in_at=card.handed_in_at if card else None,
            last_received_at=last.get(key),
        )

    def in_order(key: CardKey) -> tuple[bool, int]:
        entry = entries[key[1]]
        return entry.status == Status.PRACTICE, entry.number or 0

    return {key: receipt(key) for key in sorted(keys, key=in_order)}


def _last_received(show: Show) -> dict[CardKey, datetime]:
    """Return when the last touch of each card came, whatever became of it."""
    sent = RoundEvent.objects.filter(show=show).order_by()
    rows = sent.values_list("device__judge_id", "body__entry").annotate(Max("received_at"))
    return {
        (judge_id, entry_id): at
        for judge_id, entry_id, at in rows
        if type(entry_id) is int  # a phone may send anything under that name
    }
