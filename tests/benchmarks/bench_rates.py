"""Error rates of the checks by a larger simulation than the tests can afford."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import numpy as np
from scipy.stats import binom

from judging.rules.results.cards import card_table
from judging.rules.results.odd_cards import odd_cards
from judging.rules.results.panel import analyse, read_marks
from judging.rules.results.panel_checks import MEANINGS, check_panel
from tests.benchmarks.measure import Bound, Row, clocked
from tests.rules.results.clean_show import PLAIN, REALISTIC, UNEVEN, clean_show, places
from tests.rules.results.test_panel_checks import alarms, times

NAME = "rates"
SETTINGS = tuple(
    (shape, kind)
    for shape in ((15, 2, 40), (15, 3, 40), (15, 4, 40), (25, 6, 30))
    for kind in (PLAIN, REALISTIC, UNEVEN)
)
SHOWS = 150  # of each setting
ALPHA = 0.05
# Favours of two points, three judges, some of whose likings differ: so many must be found.
FAVOURS, GOAL = 1000, 0.80


def rows() -> Iterator[Row]:
    """Count false alarms, and favours that are seen."""
    yield from _alarms()
    yield from _favours()


def _favours() -> Iterator[Row]:
    """Put a favour of two points on any card of a clean show, and look whether it is named."""
    rng, seen, shape = np.random.default_rng(78), 0, (15, 3, 40)
    where = places(shape)

    def simulate() -> None:
        nonlocal seen
        for _ in range(FAVOURS):
            score = clean_show(rng, shape, REALISTIC)
            entry, judge = int(rng.integers(15)), int(rng.integers(3))
            score[entry, judge] = np.clip(score[entry, judge] + 2, 0, 10)
            odd = odd_cards(card_table(analyse(read_marks(*where, score.ravel()))), ALPHA)
            seen += (entry, judge) in [(odd.entry[c], odd.judge[c]) for c in odd.flagged]

    taken = clocked(simulate)
    most = float(binom.ppf(0.999, FAVOURS, 1 - GOAL)) / FAVOURS
    yield Row(
        NAME,
        f"favours of two points in {FAVOURS} shows of three judges",
        taken,
        bounds=(Bound("unseen", 1 - seen / FAVOURS, most),),
        note=f"{100 * seen / FAVOURS:.1f} % seen",
    )


def _alarms() -> Iterator[Row]:
    """Count the clean shows which each check flags; a bound may be missed once in a thousand."""
    rng, count, shows = np.random.default_rng(77), Counter[str](), SHOWS * len(SETTINGS)

    def simulate() -> None:
        for shape, kind in SETTINGS:
            where = places(shape)
            for _ in range(SHOWS):
                score = clean_show(rng, shape, kind, severity=0.0)
                found = check_panel(*where, score.ravel(), times(rng, shape)[1], ALPHA)
                count.update(
                    name for name in alarms(found) if kind != UNEVEN or name != "consistency"
                )

    taken = clocked(simulate)
    most = float(binom.ppf(0.999, shows, ALPHA)) / shows
    yield Row(
        NAME,
        f"false alarms of ten checks in {shows} clean shows",
        taken,
        bounds=tuple(Bound(name, count[name] / shows, most) for name in MEANINGS),
        note=", ".join(f"{name} {100 * count[name] / shows:.1f} %" for name in MEANINGS),
    )
