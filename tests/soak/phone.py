"""A phone in the soak: touches by a seed, sent over a line that loses, repeats and reorders.

The phone keeps what a real one keeps: every touch until the server has answered for it. It
knows nothing of what the line did; it only tries again. Some of its touches are nonsense, some
phones make their last ones too late, and one is shut out: all that must be kept aside.
"""

from __future__ import annotations

import random
import threading
import time
from collections import Counter
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any
from uuid import UUID

import httpx

from judging.rules.cards.scorecard import Mark, MarkState
from judging.rules.round.card_hash import card_hash

Json = dict[str, Any]
Card = tuple[int, str]  # entry, criterion
BATCH = 40
EVENTS = "/api/v1/device/events"
# Shares of batches that meet each trouble; a batch may meet several.
NONSENSE = 0.02  # of all touches
SHUT_OUT = "device-shut-out"
REQUEST_LOST, REPLY_LOST, REPEATED, SHUFFLED, OLD_ONES_TOO = 0.05, 0.05, 0.10, 0.10, 0.03

# What no phone sends, and why the server keeps it aside.
SPOILS: tuple[tuple[Json, str], ...] = (
    ({"kind": "mark", "state": "marked", "value": "11"}, "mark-over-maximum"),
    ({"kind": "mark", "state": "marked", "value": "7", "criterion": "?"}, "criterion-not-yours"),
    ({"kind": "mark", "state": "marked", "value": {"a": 1}}, "unreadable"),
    ({"kind": "clear", "entry": 2**52}, "not-your-card"),
    ({"kind": "hand_in", "hash": "yes"}, "unreadable"),
    ({"kind": "?!", "keyed_by": [7]}, "unreadable"),
)


class LineCut(Exception):
    """The line dropped the request or its reply."""


@dataclass
class Phone:
    """One paired phone with the rows its judge may mark."""

    url: str
    token: str
    rows: list[Card]
    seed: int
    n_events: int
    device_id: int = 0
    # What its clock says at a touch in time, and at its last ones where they come too late.
    in_time: str = "2027-05-15T09:00:00-06:00"
    too_late: str = ""
    n_late: int = 0
    made: dict[str, Json] = field(default_factory=dict)
    waiting: list[str] = field(default_factory=list)
    outcomes: Counter[str] = field(default_factory=Counter)
    sent: int = 0
    repeated: int = 0
    cuts: int = 0
    refused: int = 0
    sync_ms: list[float] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Deal the phone its own chances."""
        self.rng = random.Random(self.seed)
        self.answered: set[str] = set()
        # Why a touch must be kept aside, and those kept because the phone was shut out.
        self.spoilt: dict[str, str] = {}
        self.kept_back: set[str] = set()

    # --- touches ---------------------------------------------------------------------------
    def touch(self) -> None:
        """Make one touch and keep it."""
        entry, criterion = self.rng.choice(self.rows)
        roll = self.rng.random()
        event: Json = {"entry": entry, "criterion": criterion, "at": self.in_time}
        spoilt = ""
        if self.rng.random() < NONSENSE:
            nonsense, spoilt = self.rng.choice(SPOILS)
            event |= nonsense
        elif len(self.made) >= self.n_events - self.n_late:
            event |= {"kind": "mark", "state": "marked", "value": "1", "at": self.too_late}
            spoilt = "after-window"
        elif roll < 0.90:
            value = str(self.rng.randrange(11))
            event |= {"kind": "mark", "state": "marked", "value": value}
        elif roll < 0.94:
            event |= {"kind": "clear"}
        elif roll < 0.97:
            event |= {"kind": "mark", "state": "not_inspected", "value": None}
        else:
            event |= {"kind": "concern", "degree": "note", "text": "Chafed keeper."}
        seq = len(self.made) + 1
        key = str(UUID(int=self.rng.getrandbits(128), version=4))
        self.made[key] = {"id": key, "seq": seq, **event}
        self.waiting.append(key)
        if spoilt:
            self.spoilt[key] = spoilt

    def expected(self) -> dict[Card, Mark]:
        """Say what must stand on the judge's cards: the last touch of every row that counts."""
        last: dict[Card, Mark | None] = {}
        for key, event in self.made.items():
            if key in self.spoilt or key in self.kept_back:
                continue
            row = (event["entry"], event["criterion"])
            if event["kind"] == "clear":
                last[row] = None
            elif event["kind"] == "mark":
                value = Decimal(event["value"]) if event["value"] is not None else None
                last[row] = Mark(MarkState(event["state"]), value)
        return {row: mark for row, mark in last.items() if mark is not None}

    def expected_hashes(self) -> dict[int, str]:
        """Return the fingerprint every card must have."""
        cards: dict[int, dict[str, Mark]] = {entry: {} for entry, _ in self.rows}
        for (entry, criterion), mark in self.expected().items():
            cards[entry][criterion] = mark
        return {entry: card_hash(marks) for entry, marks in cards.items()}

    # --- the line --------------------------------------------------------------------------
    def work(self, gate: threading.Barrier) -> None:
        """Make all touches, sending as it goes; return once the server answered for each."""
        gate.wait(timeout=120)
        with httpx.Client(base_url=self.url, timeout=30) as http:
            http.headers["Authorization"] = f"Bearer {self.token}"
            while len(self.made) < self.n_events or self.waiting:
                for _ in range(min(self.rng.randint(1, 60), self.n_events - len(self.made))):
                    self.touch()
                self._sync(http)

    def _sync(self, http: httpx.Client) -> None:
        pause = 0.02
        while self.waiting:
            batch = self.waiting[:BATCH]
            try:
                self._send(http, batch)
            except LineCut:
                self.cuts += 1
            except httpx.HTTPError:
                self.refused += 1  # the server was gone
            else:
                pause = 0.02
                continue
            time.sleep(pause * self.rng.random())
            pause = min(pause * 2, 1.0)

    def _send(self, http: httpx.Client, batch: list[str]) -> None:
        rng, events = self.rng, list(batch)
        if rng.random() < OLD_ONES_TOO and self.answered:
            room = BATCH - min(len(events), BATCH - 5)
            events = events[: BATCH - 5] + rng.sample(
                sorted(self.answered), min(room, len(self.answered), 5)
            )
        if rng.random() < SHUFFLED:
            rng.shuffle(events)
        times = 2 if rng.random() < REPEATED else 1
        if rng.random() < REQUEST_LOST:
            raise LineCut
        body = {"unsent": len(self.waiting), "events": [self.made[key] for key in events]}
        body["battery_percent"] = rng.choice([None, 55, "full"])
        for _ in range(times):
            begun = time.monotonic()
            answer = http.post(EVENTS, json=body)
            took = (time.monotonic() - begun) * 1000
            self.sent += len(events)
            self.repeated += sum(key in self.answered for key in events)
            if answer.status_code >= 500:
                raise httpx.HTTPError(str(answer.status_code))
            if answer.status_code != 200:
                self.faults.append(f"{answer.status_code}: {answer.text[:200]}")
                raise httpx.HTTPError(str(answer.status_code))
            if rng.random() < REPLY_LOST:
                raise LineCut
            self.sync_ms.append(took)
            self._note(events, answer.json()["results"])

    def _note(self, events: list[str], results: list[Json]) -> None:
        for key, outcome in zip(events, results, strict=True):
            if outcome["id"] != key:
                self.faults.append(f"asked for {key}, answered for {outcome['id']}")
            if key in self.answered:
                continue
            self.outcomes[outcome["status"]] += 1
            if outcome["code"] == SHUT_OUT:
                self.kept_back.add(key)
            elif outcome["code"] != self.spoilt.get(key, ""):
                self.faults.append(f"held for “{outcome['code']}”: {self.made[key]}")
            self.answered.add(key)
        done = set(events)
        self.waiting = [key for key in self.waiting if key not in done]
