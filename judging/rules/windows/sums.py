"""The exact sum of lognormal visits on a grid, and what is asked of it before."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

Floats = NDArray[np.float64]

FEWEST_BINS, MOST_BINS = 1 << 11, 1 << 17
BINS_A_SPREAD = 50  # bins over one standard deviation of the sum, heavy tails left aside
CERTAIN = 1e-6  # a spread that no clock can tell from none
TAIL = 6.5  # normal deviates beyond which no visit is counted: 4 in 10^11
SLOWEST = 4.0  # normal deviates beyond which no day's pace is: 3 in 10^5


def checked(
    means: Sequence[float], cvs: float | Sequence[float], fixed: float, pace_sd: float
) -> tuple[list[float], list[float]]:
    """Read means and spreads, one spread for each visit.

    Raises
    ------
    ValueError
        Where they differ in number, or one is no number of minutes or no share.
    """
    wanted = [float(mean) for mean in means]
    if isinstance(cvs, Sequence | np.ndarray):
        spreads = [float(cv) for cv in cvs]
    else:
        spreads = [float(cvs)] * len(wanted)
    if len(spreads) != len(wanted):
        raise ValueError(f"there are {len(spreads)} spreads for {len(wanted)} visits")
    for mean in wanted:
        number("a visit", mean)
    for cv in spreads:
        number("a spread", cv)
    number("the fixed minutes", fixed)
    number("the spread of the pace", pace_sd)
    return wanted, spreads


def number(what: str, value: float, least: float = 0.0) -> None:
    """Refuse what is no number, or is less than `least`.

    Raises
    ------
    ValueError
        With what it is.
    """
    if not math.isfinite(value):
        raise ValueError(f"{what} is {value}, which is no number of minutes or share")
    if value < least:
        raise ValueError(f"{what} is {value}, but cannot be less than nothing")


@dataclass(frozen=True)
class Known:
    """The sum of visits on a grid, as far as a window needs it."""

    sure: float
    sums: Floats
    mass: Floats
    pace_sd: float

    def chance(self, window: float) -> float:
        if self.pace_sd > 0:
            if window <= 0:
                return float(window == 0 and self.sure == 0 and not self.sums.any())
            with np.errstate(divide="ignore"):
                slower = np.log(window) - np.log(self.sums + self.sure)
            return float(
                min(1.0, self.mass @ scipy.special.ndtr(slower / self.pace_sd + self.pace_sd / 2))
            )
        if len(self.sums) < 2:
            return float(len(self.sums) == 1 and self.sums[0] + self.sure <= window)
        # Linear between the edges of the bins, so that the window may lie inside one.
        step = self.sums[1] - self.sums[0]
        edges = np.concatenate(([self.sums[0] - step / 2], self.sums + step / 2))
        below = np.concatenate(([0.0], np.cumsum(self.mass)))
        return float(min(1.0, np.interp(window - self.sure, edges, below)))


@dataclass(frozen=True)
class Days:
    """Visits that vary, by mean and cv, beside those that do not."""

    sure: float
    kinds: Counter[tuple[float, float]]
    pace_sd: float

    @classmethod
    def of(cls, means: Sequence[float], cvs: Sequence[float], pace_sd: float) -> Days:
        pairs = [(m, cv) for m, cv in zip(means, cvs, strict=True) if m > 0]
        sure = sum(m for m, cv in pairs if cv <= CERTAIN)
        kinds = Counter(pair for pair in pairs if pair[1] > CERTAIN)
        return cls(sure, kinds, pace_sd if pace_sd > CERTAIN else 0.0)

    def quick_quantile(self, share: float) -> float:
        """One lognormal for all of it."""
        mean = self.sure + sum(m * n for (m, _), n in self.kinds.items())
        variance = sum(n * (m * cv) ** 2 for (m, cv), n in self.kinds.items())
        log_variance = (math.log1p(variance / mean**2) if mean else 0.0) + self.pace_sd**2
        deviate = float(scipy.special.ndtri(share)) * math.sqrt(log_variance)
        return max(1e-9, mean * math.exp(deviate - log_variance / 2))

    def reaching(self, window: float) -> Known:
        """Work the sum out as far as it can still fit on the slowest days."""
        slowest = self.pace_sd * SLOWEST + self.pace_sd**2 / 2
        return Known(
            self.sure, *_sum(self.kinds, window * math.exp(slowest) - self.sure), self.pace_sd
        )


def _sum(kinds: Counter[tuple[float, float]], most: float) -> tuple[Floats, Floats]:
    """Grid of sums up to ``most`` [min] and the likelihood of each."""
    if not kinds:
        return np.zeros(1), np.ones(1)
    shapes = []
    for (mean, cv), times in kinds.items():
        sigma = math.sqrt(math.log1p(cv * cv))
        mu = math.log(mean) - sigma * sigma / 2
        shapes.append((mu, sigma, math.exp(mu - TAIL * sigma), times))
    low = sum(least * times for _, _, least, times in shapes)
    high = sum(math.exp(mu + TAIL * sigma) * times for mu, sigma, _, times in shapes)
    room = min(most, high) - low
    if room <= 0:
        return np.empty(0), np.empty(0)
    bins = _bins(room, math.hypot(*(_width(*shape) for shape in shapes)))
    step = room / (bins - 1)
    # Tilted by 20 over the grid: what wraps round is damped to 2 in 10^9, rounding grows to 10^-7.
    tilt = np.exp(-20.0 / bins * np.arange(bins))
    edges = (np.arange(bins + 1) - 0.5) * step
    spectrum: NDArray[np.complex128] = np.ones(bins // 2 + 1, dtype=np.complex128)
    for mu, sigma, least, times in shapes:
        with np.errstate(divide="ignore"):
            below = scipy.special.ndtr((np.log(np.maximum(edges + least, 0.0)) - mu) / sigma)
        spectrum *= np.fft.rfft(np.diff(below) * tilt) ** times
    mass = np.fft.irfft(spectrum, bins) / tilt
    return np.asarray(low + step * np.arange(bins)), np.maximum(mass, 0.0)


def _width(mu: float, sigma: float, _: float, times: int) -> float:
    """How wide such visits together are where most of them lie [min]."""
    return math.exp(mu) * min(sigma, 1.0) * math.sqrt(times)


def _bins(room: float, width: float) -> int:
    wanted = BINS_A_SPREAD * room / width
    return int(min(MOST_BINS, 1 << math.ceil(math.log2(max(FEWEST_BINS, wanted)))))
