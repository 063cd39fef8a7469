"""A large panel: 200 entries, 60 judges, 5 sections, beside a maximum flow over the same edges."""

from __future__ import annotations

import random
from collections.abc import Iterator

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_flow

from judging.rules.panels.assignment import Draw, JudgeOffer, draw
from tests.benchmarks.measure import Bound, Row, alone

NAME = "panel"
ENTRIES, JUDGES, SECTIONS, LOOKS = 200, 60, 5, 3
REPEATS = 3
AT_MOST_MS = 1000.0


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
