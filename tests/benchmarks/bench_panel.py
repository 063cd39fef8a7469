"""A large panel: 200 entries, 60 judges, 5 sections, beside a maximum flow over the same edges.

Then the same with everything the office may ask, a mending, and a collision in a usual show.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_flow

from judging.rules.panels.assignment import Draw, JudgeOffer, Pin, draw, draw_task
from judging.rules.panels.collide import Collision, explain
from judging.rules.panels.mending import Mended, mend_task
from judging.rules.panels.pins import Task
from tests.benchmarks.measure import Bound, Row, alone

NAME = "panel"
ENTRIES, JUDGES, SECTIONS, LOOKS = 200, 60, 5, 3
REPEATS = 3
AT_MOST_MS = 1000.0
WISHES_AT_MOST_MS = 500.0  # at two looks a place
EXPLAINED_AT_MOST_MS = 2000.0


def offers() -> list[JudgeOffer]:
    """Return judges of two to four sections, each barred from a few entries."""
    rng = random.Random(60)
    sections = [f"section {k}" for k in range(SECTIONS)]
    return [
        JudgeOffer(
            judge,
            frozenset(rng.sample(sections, rng.randint(2, 4))),
            frozenset(rng.sample(range(ENTRIES), 4)),
        )
        for judge in range(JUDGES)
    ]


def seats_within(judges: list[JudgeOffer], limit: int) -> int:
    """Return how many looks can be given when no judge gives more than `limit`: a maximum flow."""
    places = [(entry, f"section {k}") for entry in range(ENTRIES) for k in range(SECTIONS)]
    source, sink = 0, 1 + JUDGES + len(places)
    edges = [(source, 1 + j, limit) for j in range(JUDGES)]
    for place, (entry, section) in enumerate(places):
        edges.append((1 + JUDGES + place, sink, LOOKS))
        edges += [
            (1 + j, 1 + JUDGES + place, 1)
            for j, offer in enumerate(judges)
            if section in offer.sections and entry not in offer.barred
        ]
    start, end, capacity = (np.array(column, dtype=np.int32) for column in zip(*edges, strict=True))
    graph = csr_array((capacity, (start, end)), shape=(sink + 1, sink + 1))
    return int(maximum_flow(graph, source, sink).flow_value)


def rows() -> Iterator[Row]:
    """Measure the draw, and prove that its loads cannot be more equal."""
    judges = offers()
    drawn: list[Draw] = []
    every = tuple(f"section {k}" for k in range(SECTIONS))

    def ours() -> None:
        drawn[:] = [
            draw(
                entries=range(ENTRIES),
                entry_sections=dict.fromkeys(range(ENTRIES), every),
                judges=judges,
                judges_per_section=dict.fromkeys(every, LOOKS),
                seed=1,
            )
        ]

    taken = alone(ours, repeats=REPEATS)
    loads = drawn[0].loads.values()
    looks = ENTRIES * SECTIONS * LOOKS
    assert sum(loads) == looks
    busiest = max(loads)
    # No panel has a less busy busiest judge exactly if one seat less a judge is not enough.
    possible = seats_within(judges, busiest - 1)
    assert seats_within(judges, busiest) == looks
    yield Row(
        NAME,
        f"draw a panel of {ENTRIES} entries x {JUDGES} judges x {SECTIONS} sections",
        taken,
        bounds=(
            Bound("ms", taken, AT_MOST_MS),
            Bound("looks possible with one seat less a judge", possible, looks - 1),
        ),
        note=f"{looks} looks, loads {min(loads)} to {busiest}; least possible by a maximum flow",
    )
    yield from wish_rows()


def wished() -> Task:
    """Return the large show at two looks a place, with novices, pins and limits."""
    rng = random.Random(61)
    every = tuple(f"section {k}" for k in range(SECTIONS))
    judges = [
        replace(offer, novice=j % 3 == 0, max_seats=30 if j % 6 == 1 else None)
        for j, offer in enumerate(offers())
    ]
    pins = [
        Pin(offer.judge, entry, rng.choice(sorted(offer.sections)), must=j % 2 == 0)
        for j, offer in enumerate(judges)
        if not offer.novice
        for entry in [next(e for e in range(j, ENTRIES) if e not in offer.barred)]
    ]
    return Task(
        entries=range(ENTRIES),
        entry_sections=dict.fromkeys(range(ENTRIES), every),
        judges=judges,
        judges_per_section=dict.fromkeys(every, 2),
        pins=pins,
        novices_beside_seniors=True,
        minutes={section: 3 + 2 * k for k, section in enumerate(every)},
    )


def usual_collision() -> Task:
    """Return 40 wagons and 10 judges whose limits leave ten seats too few."""
    every = tuple(f"section {k}" for k in range(SECTIONS))
    judges = [
        JudgeOffer(j, frozenset({every[j % 5], every[(j + 1) % 5]}), frozenset({j, j + 10}), 39)
        for j in range(10)
    ]
    return Task(
        entries=range(40),
        entry_sections=dict.fromkeys(range(40), every),
        judges=judges,
        judges_per_section=dict.fromkeys(every, 2),
    )


def wish_rows() -> Iterator[Row]:
    """Measure what the office may ask beside looks and conflicts."""
    task, drawn, mended, told = wished(), list[Draw](), list[Mended](), list[Collision | None]()

    def timed(work: Callable[[], None], name: str, most: float, note: Callable[[], str]) -> Row:
        taken = alone(work, repeats=REPEATS)
        return Row(NAME, name, taken, bounds=(Bound("ms", taken, most),), note=note())

    def by_seats() -> None:
        drawn[:] = [draw_task(task, seed=1)]

    def by_minutes() -> None:
        drawn[:] = [draw_task(task, seed=1, balance_by="minutes")]

    def without_one() -> None:
        gone = task.judges[2]
        pins = [pin for pin in task.pins if pin.judge != gone.judge]
        left = replace(task, judges=[o for o in task.judges if o != gone], pins=pins)
        mended[:] = [mend_task(left, seats=drawn[0].seats, seed=1)]

    def collision() -> None:
        told[:] = [explain(usual_collision())]

    def balance() -> str:
        found = drawn[0].balance
        return f"squares {found.squares}, bound {found.bound}"

    yield timed(
        by_minutes, "the same at 2 looks, novices, pins, limits; equal minutes", 5000.0, balance
    )
    yield timed(by_seats, "the same, equal seats; least possible", WISHES_AT_MOST_MS, balance)
    assert drawn[0].balance.proved
    yield timed(
        without_one,
        "mend it after a judge fell ill",
        5000.0,
        lambda: f"seats new {len(mended[0].added)}, handed on {mended[0].handed_on}",
    )
    yield timed(
        collision,
        "say what collides, 40 entries x 10 judges x 5 sections",
        EXPLAINED_AT_MOST_MS,
        lambda: f"{len(told[0].rules)} rules, {len(told[0].releases)} ways out" if told[0] else "",
    )
