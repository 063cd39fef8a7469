"""When a rotation really ends: its orders played through many days of longer and shorter visits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from judging.rules.windows.problem import Rotation, RotationProblem
from judging.rules.windows.simulate import Floats, lognormal_minutes, played, rests_before
from judging.rules.windows.sums import number

RUNS = 10_000


@dataclass(frozen=True, eq=False)
class RotationRisk:
    """The ends of many simulated days.

    Parameters
    ----------
    finishes
        Shape ``(runs,)``, ascending, minute the last visit ends [min].
    """

    finishes: Floats

    def chance(self, window: float) -> float:
        """Say on which share of the days all visits end by a minute."""
        return float(np.searchsorted(self.finishes, window, side="right")) / len(self.finishes)

    def quantile(self, share: float) -> float:
        """Say by which minute a share of the days has ended [min]."""
        if not 0 < share < 1:
            raise ValueError(f"a share lies between 0 and 1, not at {share}")
        return float(np.quantile(self.finishes, share, method="inverted_cdf"))

    @property
    def mean(self) -> float:
        """The end of an average day [min]."""
        return float(self.finishes.mean())


def rotation_finish(
    problem: RotationProblem,
    rotation: Rotation,
    *,
    visit_cv: float,
    pace_sd: float,
    hold_starts: bool = True,
    runs: int = RUNS,
    seed: int = 0,
) -> RotationRisk:
    """Play a rotation's orders through many days.

    Parameters
    ----------
    problem, rotation
        What was asked for, and the clean rotation that is announced.
    visit_cv
        Standard deviation of a visit over its planned minutes.
    pace_sd
        Standard deviation of the logarithm of the day's pace, common to all visits; its mean is 1.
    hold_starts
        Whether judges wait for the announced minute, as they must where crews were told it.
    runs, seed
        Days, and chance; the same values give the same days.

    Returns
    -------
    RotationRisk
        Chance of any window and finish of any share of days; with 10,000 days a chance is
        within 0.01 of the model's.

    Raises
    ------
    ValueError
        For spreads below nothing or no numbers, and for less than one day.

    Notes
    -----
    Every judge and every crew keeps the announced order, each visit begins when both are ready
    and not before its announced minute. Walks, resets, breaks and spans away are kept; a visit
    begins only where its planned minutes fit before a span away. A shortest rotation has no
    slack: most days end later.

    Source
    ------
    Common practice, no source: simulation of a project network, here with held starts.

    Example
    -------
    >>> from judging.rules.windows.problem import VisitNeed
    >>> from judging.rules.windows.problem import Visit
    >>> problem = RotationProblem((VisitNeed(1, "gear", 5),), ((0, 2), (2, 0)), {1: 1})
    >>> plan = Rotation((Visit(1, "gear", 2, 7),), 7, 7, True, "by hand")
    >>> sure = rotation_finish(problem, plan, visit_cv=0, pace_sd=0)
    >>> sure.chance(6.9), sure.chance(7), sure.quantile(0.9)
    (0.0, 1.0, 7.0)
    """
    number("the spread of the visits", visit_cv)
    number("the spread of the pace", pace_sd)
    if runs < 1:
        raise ValueError("at least one day must be played")
    rng = np.random.default_rng(seed)
    visits = sorted(rotation.visits, key=lambda visit: (visit.start, visit.end))
    minutes = lognormal_minutes(rng, [v.end - v.start for v in visits], visit_cv, runs)
    minutes *= np.exp(rng.standard_normal(runs) * pace_sd - pace_sd**2 / 2)
    ends = played(
        problem,
        visits,
        minutes,
        hold_starts=hold_starts,
        resting=rests_before(problem, visits),
    )
    return RotationRisk(np.sort(ends.max(axis=0)))
