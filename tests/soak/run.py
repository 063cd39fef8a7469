"""The soak: many phones on a bad line, a server killed again and again, and then the count.

One phone is shut out half-way and goes on sending; when all have sent, the office takes its
touches in, and its cards must be as its judge left them too.
"""

from __future__ import annotations

import random
import threading
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

from django.db import connection
from django.utils import timezone

from judging.actions.pair_device import make_pairing_code, pair_device, shut_out_device
from judging.actions.settle_phone import take_in_phone
from judging.models import (
    CardMark,
    DayRules,
    Device,
    Judge,
    RoundEvent,
    SafetyConcern,
    Seat,
    Visit,
    Window,
)
from judging.models.card import EMPTY
from judging.queries.round import round_bundle
from showrun.shows.models import Show
from tests.benchmarks.big_show import ROWS, seated_show
from tests.judged_show import office_of
from tests.processes import Processes
from tests.soak.phone import SHUT_OUT, Phone

WAGONS = 20
KILL_AFTER_S = (4.0, 9.0)
LATE_BATCH = 20


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
    nonsense: int
    late: int
    shut_out: int
    taken_in: int
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
            f"kept aside       {self.nonsense + self.late:>9}  "
            f"{self.nonsense} of nonsense, {self.late} too late",
            f"sent shut out    {self.shut_out:>9}  kept, and {self.taken_in} taken in at the end",
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
    ground = Processes(folder)
    phones = [phone for judge in judges for phone in _phones(judge, ground.url, phones_a_judge)]
    in_time, too_late = _yesterday(show)
    for number, phone in enumerate(phones):
        phone.n_events = events // len(phones) + (number < events % len(phones))
        phone.n_late = min(LATE_BATCH, phone.n_events // 4) if number % 2 else 0
        phone.in_time, phone.too_late = in_time, too_late
        phone.seed = seed * 1000 + number
        phone.__post_init__()
    say(f"{len(phones)} phones of {len(judges)} judges, {WAGONS} wagons, seed {seed}")
    connection.close()
    begun = time.monotonic()
    ground.start_web()
    try:
        _until_all_sent(phones, ground, random.Random(seed), say)
    finally:
        ground.stop()
    return _count(show, phones, ground, time.monotonic() - begun)


def _yesterday(show: Show) -> tuple[str, str]:
    """Let the window be past; return a moment in it, and one after its grace."""
    opened = timezone.now() - timedelta(days=1)
    Visit.objects.filter(window__show=show).delete()
    Window.objects.filter(show=show).update(opens_at=opened, available_minutes=60)
    DayRules.objects.update_or_create(show=show, defaults={"grace_minutes": 60})
    moments = (opened + timedelta(minutes=30), opened + timedelta(hours=3))
    return moments[0].isoformat(), moments[1].isoformat()


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
        device, token = pair_device(code=code, label=f"phone {k + 1}", at=timezone.now())
        rows = [(entry, row) for entry in wagons[k::n] for row in by_entry[entry]]
        made.append(Phone(url, token, rows, seed=0, n_events=0, device_id=device.pk))
    return made


def _until_all_sent(
    phones: list[Phone], ground: Processes, rng: random.Random, say: Callable[[str], None]
) -> None:
    gate = threading.Barrier(len(phones))
    threads = [threading.Thread(target=phone.work, args=(gate,), daemon=True) for phone in phones]
    for thread in threads:
        thread.start()
    kill_at = time.monotonic() + rng.uniform(*KILL_AFTER_S)
    told = time.monotonic()
    lost: Phone | None = phones[-1]
    while any(thread.is_alive() for thread in threads):
        time.sleep(0.1)
        if time.monotonic() >= kill_at:
            ground.kill()
            ground.start_web()
            kill_at = time.monotonic() + rng.uniform(*KILL_AFTER_S)
        if lost and len(lost.answered) * 2 >= lost.n_events:
            _shut_out(lost)
            lost = None
        if time.monotonic() - told > 15:
            told = time.monotonic()
            say(f"{sum(len(p.answered) for p in phones)} touches answered for")


def _shut_out(phone: Phone) -> None:
    device = Device.objects.select_related("judge__show").get(pk=phone.device_id)
    shut_out_device(device=device, by=None, at=timezone.now(), reason="Lost in the creek.")
    connection.close()


def _wrong(phones: list[Phone]) -> int:
    """Count the cards that are not as they must be."""
    wrong = 0
    for phone in phones:
        there = _bundle_of(phone)
        wrong += sum(there[entry] != found for entry, found in phone.expected_hashes().items())
    return wrong


def _take_in(show: Show, phones: list[Phone], faults: list[str]) -> int:
    """Take in what phones sent that were shut out; return how many touches took effect."""
    applied = 0
    for phone in phones:
        if not phone.kept_back:
            continue
        device = Device.objects.select_related("judge__show", "judge__person").get(
            pk=phone.device_id
        )
        taken = take_in_phone(
            device=device, code=SHUT_OUT, note="Found.", by=office_of(show), at=timezone.now()
        )
        good = len(phone.kept_back - set(phone.spoilt))
        if taken.applied != good:
            faults.append(f"{good} touches to be taken in, {taken.applied} taken in")
        applied += taken.applied
        phone.kept_back = set()
    return applied


def _aside(phones: list[Phone], faults: list[str]) -> Counter[str]:
    """Count what is held, by its reason; it must be just what was spoilt."""
    spoilt = Counter(code for phone in phones for code in phone.spoilt.values())
    held = RoundEvent.objects.filter(applied=False).order_by()
    found = Counter(held.values_list("reason_code", flat=True))
    if found != spoilt:
        faults.append(f"kept aside {dict(found)}, to be kept aside {dict(spoilt)}")
    return found


def _count(show: Show, phones: list[Phone], ground: Processes, seconds: float) -> Tally:
    faults = [fault for phone in phones for fault in phone.faults]
    wrong, shut_out = _wrong(phones), sum(len(phone.kept_back) for phone in phones)
    taken_in = _take_in(show, phones, faults)
    wrong += _wrong(phones)
    aside = _aside(phones, faults)
    made = {key: event for phone in phones for key, event in phone.made.items()}
    stored = [str(pk) for pk in RoundEvent.objects.values_list("pk", flat=True)]
    spoilt = {key for phone in phones for key in phone.spoilt}
    good = (event for key, event in made.items() if key not in spoilt)
    concerns = sum(event["kind"] == "concern" for event in good)
    raised = SafetyConcern.objects.count()
    marks = CardMark.objects.exclude(state=EMPTY).values_list(
        "card__judge_id", "card__entry_id", "criterion__code"
    )
    doubled = len(stored) - len(set(stored)) + len(set(stored) - set(made))
    doubled += max(0, raised - concerns) + len(marks) - len(set(marks))
    waits = sorted(ms for phone in phones for ms in phone.sync_ms)
    return Tally(
        events=len(made),
        sent=sum(phone.sent for phone in phones),
        repeated=sum(phone.repeated for phone in phones),
        cuts=sum(phone.cuts for phone in phones),
        kills=ground.kills,
        lost=len(set(made) - set(stored)) + max(0, concerns - raised),
        doubled=doubled,
        nonsense=aside.total() - aside["after-window"],
        late=aside["after-window"],
        shut_out=shut_out,
        taken_in=taken_in,
        cards=sum(len(phone.expected_hashes()) for phone in phones),
        cards_wrong=wrong,
        p50_ms=waits[len(waits) // 2],
        p95_ms=waits[int(len(waits) * 0.95)],
        longest_ms=waits[-1],
        seconds=seconds,
        faults=tuple(faults[:10]),
    )


def _bundle_of(phone: Phone) -> dict[int, str]:
    """Return the fingerprints the server gives the phone of its cards."""
    event = RoundEvent.objects.filter(pk__in=list(phone.made)[:1]).select_related("device").get()
    device = event.device
    bundle = round_bundle(device, at=timezone.now())
    empty = Phone("", "", [(0, "")], seed=0, n_events=0).expected_hashes()[0]
    return {v["entry"]["id"]: v["card"]["hash"] or empty for v in bundle["visits"]}
