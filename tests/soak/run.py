"""The soak: many phones on a bad line, a server killed again and again, and then the count."""

from __future__ import annotations

import random
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from django.db import connection
from django.utils import timezone

from judging.actions.pair_device import make_pairing_code, pair_device
from judging.models import CardMark, Judge, RoundEvent, SafetyConcern, Seat
from judging.models.card import EMPTY
from judging.queries.round import round_bundle
from tests.benchmarks.big_show import ROWS, seated_show
from tests.soak.ground import Ground
from tests.soak.phone import Phone

WAGONS = 20
KILL_AFTER_S = (4.0, 9.0)


@dataclass(frozen=True)
class Tally:
    """What was made and what the database has of it."""

    events: int
    sent: int
    repeated: int
    cuts: int
    kills: int
    lost: int
    doubled: int
    cards: int
    cards_wrong: int
    p50_ms: float
    p95_ms: float
    longest_ms: float
    seconds: float
    faults: tuple[str, ...]

    @property
    def clean(self) -> bool:
        """Whether everything arrived once and every card is as its judge left it."""
        return not (self.lost or self.doubled or self.cards_wrong or self.faults)

    @property
    def lines(self) -> list[str]:
        """The count, a line a figure."""
        return [
            f"events made      {self.events:>9}",
            f"events sent      {self.sent:>9}",
            f"sent again       {self.repeated:>9}  (answered for before)",
            f"line cut         {self.cuts:>9}  requests or replies lost",
            f"server killed    {self.kills:>9}  times (SIGKILL, all its processes)",
            f"lost             {self.lost:>9}",
            f"doubled          {self.doubled:>9}",
            f"cards compared   {self.cards:>9}",
            f"cards changed    {self.cards_wrong:>9}  other than their judge left them",
            f"sync             p50 {self.p50_ms:.0f} ms, p95 {self.p95_ms:.0f} ms, "
            f"longest {self.longest_ms:.0f} ms",
            f"took             {self.seconds:.0f} s on {connection.vendor}",
        ]


def soak(
    *, events: int, phones_a_judge: int, seed: int, folder: Path, say: Callable[[str], None]
) -> Tally:
    """Run the phones to the end and count."""
    show = seated_show(f"soak-{seed}", WAGONS)
    judges = list(Judge.objects.filter(show=show).select_related("show", "person"))
    ground = Ground(folder)
    phones = [phone for judge in judges for phone in _phones(judge, ground.url, phones_a_judge)]
    for number, phone in enumerate(phones):
        phone.n_events = events // len(phones) + (number < events % len(phones))
        phone.seed = seed * 1000 + number
        phone.__post_init__()
    say(f"{len(phones)} phones of {len(judges)} judges, {WAGONS} wagons, seed {seed}")
    connection.close()
    begun = time.monotonic()
    ground.start()
    try:
        _until_all_sent(phones, ground, random.Random(seed), say)
    finally:
        ground.stop()
    return _count(phones, ground, time.monotonic() - begun)


def _phones(judge: Judge, url: str, n: int) -> list[Phone]:
    """Pair the judge's phones and deal them the judge's rows, each wagon to one phone."""
    seats = Seat.objects.filter(judge=judge).select_related("section")
    by_entry: dict[int, list[str]] = {}
    for seat in seats.order_by("entry_id", "section__position"):
        # The last row of a section belongs to some rigs only.
        codes = [f"{seat.section.code}_{row}" for row in range(ROWS - 1)]
        by_entry.setdefault(seat.entry_id, []).extend(codes)
    wagons = sorted(by_entry)
    made = []
    for k in range(n):
        _, code = make_pairing_code(judge=judge, by=None, at=timezone.now())
        _, token = pair_device(code=code, label=f"phone {k + 1}", at=timezone.now())
        rows = [(entry, row) for entry in wagons[k::n] for row in by_entry[entry]]
        made.append(Phone(url, token, rows, seed=0, n_events=0))
    return made


def _until_all_sent(
    phones: list[Phone], ground: Ground, rng: random.Random, say: Callable[[str], None]
) -> None:
    gate = threading.Barrier(len(phones))
    threads = [threading.Thread(target=phone.work, args=(gate,), daemon=True) for phone in phones]
    for thread in threads:
        thread.start()
    kill_at = time.monotonic() + rng.uniform(*KILL_AFTER_S)
    told = time.monotonic()
    while any(thread.is_alive() for thread in threads):
        time.sleep(0.1)
        if time.monotonic() >= kill_at:
            ground.kill()
            ground.start()
            kill_at = time.monotonic() + rng.uniform(*KILL_AFTER_S)
        if time.monotonic() - told > 15:
            told = time.monotonic()
            say(f"{sum(len(p.answered) for p in phones)} touches answered for")


def _count(phones: list[Phone], ground: Ground, seconds: float) -> Tally:
    made = {key: event for phone in phones for key, event in phone.made.items()}
    stored = [str(pk) for pk in RoundEvent.objects.values_list("pk", flat=True)]
    concerns = sum(event["kind"] == "concern" for event in made.values())
    raised = SafetyConcern.objects.count()
    marks = CardMark.objects.exclude(state=EMPTY).values_list(
        "card__judge_id", "card__entry_id", "criterion__code"
    )
    doubled = len(stored) - len(set(stored)) + len(set(stored) - set(made))
    doubled += max(0, raised - concerns) + len(marks) - len(set(marks))
    wrong, cards = 0, 0
    for phone in phones:
        bundle = _bundle_of(phone)
        for entry, expected in phone.expected_hashes().items():
            cards += 1
            wrong += bundle[entry] != expected
    waits = sorted(ms for phone in phones for ms in phone.sync_ms)
    return Tally(
        events=len(made),
        sent=sum(phone.sent for phone in phones),
        repeated=sum(phone.repeated for phone in phones),
        cuts=sum(phone.cuts for phone in phones),
        kills=ground.kills,
        lost=len(set(made) - set(stored)) + max(0, concerns - raised),
        doubled=doubled,
        cards=cards,
        cards_wrong=wrong,
        p50_ms=waits[len(waits) // 2],
        p95_ms=waits[int(len(waits) * 0.95)],
        longest_ms=waits[-1],
        seconds=seconds,
        faults=tuple(fault for phone in phones for fault in phone.faults)[:10],
    )


def _bundle_of(phone: Phone) -> dict[int, str]:
    """Return the fingerprints the server gives the phone of its cards."""
    event = RoundEvent.objects.filter(pk__in=list(phone.made)[:1]).select_related("device").get()
    device = event.device
    bundle = round_bundle(device, at=timezone.now())
    empty = Phone("", "", [(0, "")], seed=0, n_events=0).expected_hashes()[0]
    return {v["entry"]["id"]: v["card"]["hash"] or empty for v in bundle["visits"]}
