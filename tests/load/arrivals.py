"""Requests that come when they are due, whether or not the ones before were answered.

A wait is counted from the moment a request was due and not from the moment it could be sent, so
that a server which stands still is not let off the requests that would have come meanwhile.

Source: an open workload, as B. Schroeder, A. Wierman, M. Harchol-Balter, "Open Versus Closed: A
Cautionary Tale", NSDI 2006, tell it from a closed one.
"""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import count

import httpx

SENDERS = 48
GIVE_UP_S = 60.0


@dataclass(frozen=True)
class Arrival:
    """Something that is due at a moment of the run."""

    due_s: float
    kind: str
    send: Callable[[httpx.Client], int]  # returns the status


@dataclass
class Waits:
    """What came of one kind of request."""

    ms: list[float] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)

    @property
    def mean(self) -> float:
        """The mean wait [ms]."""
        return sum(self.ms) / len(self.ms) if self.ms else math.nan

    def at(self, share: float) -> float:
        """The wait that this share of requests does not exceed (nearest rank) [ms]."""
        ordered = sorted(self.ms)
        return ordered[max(0, math.ceil(share * len(ordered)) - 1)] if ordered else math.nan


def arrive(url: str, arrivals: Sequence[Arrival]) -> dict[str, Waits]:
    """Send every request when it is due; return the waits by kind."""
    ordered = sorted(arrivals, key=lambda one: one.due_s)
    waits = {one.kind: Waits() for one in ordered}
    turns, begun = count(), time.monotonic() + 0.5
    lock = threading.Lock()

    def work(http: httpx.Client) -> None:
        while (turn := next(turns)) < len(ordered):
            one = ordered[turn]
            time.sleep(max(0.0, begun + one.due_s - time.monotonic()))
            try:
                status = one.send(http)
                error = "" if status == 200 else f"{one.kind}: {status}"
            except httpx.HTTPError as fault:
                error = f"{one.kind}: {type(fault).__name__}"
            took = (time.monotonic() - begun - one.due_s) * 1000
            with lock:
                waits[one.kind].ms.append(took)
                if error:
                    waits[one.kind].errors.append(error)

    room = httpx.Limits(max_connections=SENDERS, max_keepalive_connections=SENDERS)
    with httpx.Client(base_url=url, timeout=GIVE_UP_S, limits=room) as http:
        threads = [threading.Thread(target=work, args=(http,)) for _ in range(SENDERS)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    return waits
