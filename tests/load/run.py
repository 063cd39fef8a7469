"""A show Saturday in fast motion on this machine, and the same arrivals at bare views beside it.

Everything shares the machine: two web processes, two workers, the database, the broker, and the
one that asks. Figures are of this machine; what carries over is each figure beside its floor.
"""

from __future__ import annotations

import math
import random
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from django.db import connection
from django.utils import timezone

from judging.models import RoundEvent
from reports.models import Paper
from reports.tasks import queue_papers
from tests.load.arrivals import Arrival, Waits, arrive
from tests.load.stage import Saturday, set_up
from tests.processes import Processes

# How often each comes on the day, before fast motion [s].
PHONE_EVERY_S = 60.0
BOARD_EVERY_S = 5.0
RELOAD_EVERY_S = 30.0
TOUCHES_A_BATCH = 12
PAPERS_WITHIN_S = 900.0
PHONES, READERS = "phone, batch of 12 touches", "floor, one row read"


@dataclass(frozen=True)
class Asked:
    """What the load is to be."""

    shows: int
    wagons: int
    judges: int
    speed: float
    seconds: float
    seed: int


@dataclass
class Seen:
    """What came of it."""

    part: str
    waits: dict[str, Waits]
    web_cpu_s: float
    took_s: float

    def lines(self) -> Iterator[str]:
        """A line a kind of request."""
        busy = self.web_cpu_s / self.took_s
        asked = sum(len(one.ms) for one in self.waits.values())
        yield (
            f"{self.part}: {asked / self.took_s:.1f} requests a second took {busy:.2f} cores over "
            f"{self.took_s:.0f} s, {self.web_cpu_s / asked * 1000:.1f} ms each"
        )
        for kind, waits in self.waits.items():
            yield (
                f"  {kind:<28}{len(waits.ms):>6} asked{len(waits.errors):>4} errors   "
                f"mean {waits.mean:>6.0f}   p50 {waits.at(0.50):>6.0f}   "
                f"p95 {waits.at(0.95):>6.0f}   p99 {waits.at(0.99):>6.0f}   "
                f"longest {waits.at(1):>6.0f} ms"
            )


def rush(asked: Asked, *, folder: Path, say: Callable[[str], None]) -> bool:
    """Run the day; return whether nothing failed and nothing was lost."""
    begun = time.monotonic()
    day = set_up(shows=asked.shows, wagons=asked.wagons, judges=asked.judges, seed=asked.seed)
    say(
        f"{asked.shows} shows of {asked.wagons} wagons, {len(day.phones)} phones, "
        f"{len(day.exhibitors) // 2} exhibitors, {len(day.papers)} papers; {asked.speed:g} times "
        f"as fast as the day, on {connection.vendor}; set up in {time.monotonic() - begun:.0f} s"
    )
    connection.close()
    chances = random.Random(asked.seed)
    parts = list(_service(day, asked, folder, chances, say))
    nothing_lost = _count(day, parts, say)
    for part in (*parts, _floor(day, asked, folder, chances)):
        for line in part.lines():
            say(line)
    return nothing_lost


def _every(
    period_s: float, asked: Asked, chances: random.Random, one: Callable[[float], Arrival]
) -> list[Arrival]:
    """Let one come again and again, beginning at a moment of its own."""
    step = period_s / asked.speed
    first = chances.uniform(0, step)
    return [one(first + k * step) for k in range(math.floor((asked.seconds - first) / step) + 1)]


def _phones(
    day: Saturday, asked: Asked, chances: random.Random, *, slower: float = 1.0, bare: bool = False
) -> list[Arrival]:
    found: list[Arrival] = []
    for phone in day.phones:
        send = phone.write_bare if bare else phone.send
        found += _every(
            PHONE_EVERY_S * slower, asked, chances,
            lambda due, send=send: Arrival(  # type: ignore[misc]
                due, "floor, 12 rows written" if bare else PHONES,
                lambda http: send(http, TOUCHES_A_BATCH),
            ),
        )  # fmt: skip
    return found


def _readers(
    day: Saturday, asked: Asked, chances: random.Random, *, exhibitors: bool
) -> list[Arrival]:
    found: list[Arrival] = []
    for period_s, readers in (
        (BOARD_EVERY_S, day.office),
        (RELOAD_EVERY_S, day.exhibitors if exhibitors else []),
    ):
        for reader in readers:
            found += _every(
                period_s, asked, chances,
                lambda due, it=reader: Arrival(due, it.kind, it.send),  # type: ignore[misc]
            )  # fmt: skip
    return found


def _part(name: str, ground: Processes, arrivals: list[Arrival]) -> Seen:
    before, begun = ground.cpu_s(), time.monotonic()
    waits = arrive(ground.url, arrivals)
    return Seen(name, waits, ground.cpu_s() - before, time.monotonic() - begun)


def _floor(day: Saturday, asked: Asked, folder: Path, chances: random.Random) -> Seen:
    """As many batches and pages as in the second part, at bare views."""
    ground = Processes(folder)
    arrivals = _phones(day, asked, chances, slower=4, bare=True)
    for one in _readers(day, asked, chances, exhibitors=True):
        arrivals.append(Arrival(one.due_s, READERS, lambda http: http.get("/read/").status_code))
    try:
        ground.start_web("tests.load.bare_app:application", asked="/read/")
        return _part("Bare views, arrivals as at the release", ground, arrivals)
    finally:
        ground.stop()


def _service(
    day: Saturday, asked: Asked, folder: Path, chances: random.Random, say: Callable[[str], None]
) -> Iterator[Seen]:
    """Judging, then the release: papers, reloading, and the last wagons still being judged."""
    ground, workers = Processes(folder), Processes(folder)
    try:
        ground.start_web()
        # Each process loads what it needs at its first pages; a day has one such minute.
        warm = [Arrival(k / 10, one.kind, one.send) for k, one in enumerate(day.office * 3)]
        arrive(ground.url, warm)
        judging = [
            *_phones(day, asked, chances),
            *_readers(day, asked, chances, exhibitors=False),
        ]
        yield _part("Judging", ground, judging)
        workers.start_workers(2)
        begun = time.monotonic()
        queue_papers(day.papers)
        release = [
            *_phones(day, asked, chances, slower=4),
            *_readers(day, asked, chances, exhibitors=True),
        ]
        yield _part("Results released, papers being drawn", ground, release)
        _until_drawn(begun, say)
    finally:
        ground.stop()
        workers.stop()


def _until_drawn(begun: float, say: Callable[[str], None]) -> None:
    while time.monotonic() - begun < PAPERS_WITHIN_S:
        left = Paper.objects.exclude(state__in=("done", "failed")).count()
        connection.close()
        if not left:
            break
        time.sleep(1)
    done = Paper.objects.filter(state="done").count()
    took = time.monotonic() - begun
    say(f"Papers: {done} drawn in {took:.0f} s by two workers, beside the reloading")


def _count(day: Saturday, parts: list[Seen], say: Callable[[str], None]) -> bool:
    """Hold what phones were told against what the database has."""
    answered = {key for phone in day.phones for key in phone.answered}
    ours = RoundEvent.objects.filter(applied=True, device__in=[one.device for one in day.phones])
    stored = {str(pk) for pk in ours.values_list("pk", flat=True)}
    errors = [error for part in parts for waits in part.waits.values() for error in waits.errors]
    undrawn = Paper.objects.exclude(state="done").count()
    lost = len(answered - stored)
    say(
        f"Touches answered for {len(answered)}, lost {lost}, stored and not answered for "
        f"{len(stored - answered)}; errors {len(errors)}; papers not drawn {undrawn}; "
        f"{timezone.now():%Y-%m-%d %H:%M} UTC"
    )
    for error in sorted(set(errors))[:10]:
        say(f"  {error} ({errors.count(error)} times)")
    return not (lost or errors or undrawn)
