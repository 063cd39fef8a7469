"""Places which an entry might really deserve, given the errors of the totals."""

from __future__ import annotations

import math
from collections.abc import Hashable
from dataclasses import dataclass

import numpy as np

from judging.rules.results.labels import Codes, Floats
from judging.rules.results.uncertainty import Estimates, mean_variance

DRAWS = 4000
SEED = 1
# A spread of the entries below this share of the noise is taken as this share.
LEAST_SPREAD = 1e-6


@dataclass(frozen=True, eq=False)
class RankUncertainty:
    """Places which the entries might really deserve.

    Attributes
    ----------
    entries : tuple
    low, high : ndarray of int, shape (n_entries,)
        Best and worst place within the interval.
    first : ndarray of float, shape (n_entries,)
        Chance of being truly first.
    level : float
        Chance that the interval of an entry holds its true place, at least.
    """

    entries: tuple[Hashable, ...]
    low: Codes
    high: Codes
    first: Floats
    level: float


def rank_uncertainty(
    estimates: Estimates,
    level: float = 0.95,
    *,
    shrunk: bool = False,
    draws: int = DRAWS,
    seed: int = SEED,
) -> RankUncertainty:
    """Give the places each entry might really deserve.

    Parameters
    ----------
    estimates : Estimates
    level : float
    shrunk : bool
        True for the predictions of a mixed model, which are shrunk already.
    draws, seed : int
        The same seed gives the same answer.

    Returns
    -------
    RankUncertainty

    Raises
    ------
    ValueError
        When the level is not between 0 and 1.

    Notes
    -----
    The entries' true figures are drawn, given the estimates and a normal field of entries whose
    spread is estimated too, and ranked; the interval cuts off as much at either end. It is right
    for each entry by itself, not for all at once.

    Source
    ------
    Goldstein, H. & Spiegelhalter, D. J., League tables and their limitations, Journal of the Royal
    Statistical Society A 159, 1996 (from memory); simulations in the tests are its evidence.

    Example
    -------
    >>> seen = Estimates(("A", "B", "C"), np.array([9.0, 6.0, 5.9]), 0.05 * np.eye(3), 20)
    >>> found = rank_uncertainty(seen)
    >>> list(zip(found.low.tolist(), found.high.tolist()))
    [(1, 1), (2, 3), (2, 3)]
    """
    if not 0.0 < level < 1.0:
        raise ValueError("The level must lie between 0 and 1.")
    n = len(estimates.entries)
    mean, covariance = estimates.value, estimates.covariance
    if not shrunk and n > 1:
        mean, covariance = _shrink(mean, covariance)
    scale, axes = np.linalg.eigh((covariance + covariance.T) / 2.0)
    root = axes * np.sqrt(np.clip(scale, 0.0, None))
    rng = np.random.default_rng(seed)
    noise = rng.normal(size=(draws, n)) @ root.T
    if math.isfinite(estimates.df):
        noise *= np.sqrt(estimates.df / rng.chisquare(estimates.df, size=(draws, 1)))
    drawn = mean + noise
    # Who ties in a draw goes in any order, not in that of the entries.
    order = np.lexsort((rng.random((draws, n)), -drawn), axis=1)
    places = np.empty((draws, n), dtype=np.intp)
    np.put_along_axis(places, order, np.broadcast_to(np.arange(1, n + 1), (draws, n)), axis=1)
    tail = (1.0 - level) / 2.0
    return RankUncertainty(
        entries=estimates.entries,
        low=np.quantile(places, tail, axis=0, method="lower").astype(np.intp),
        high=np.quantile(places, 1.0 - tail, axis=0, method="higher").astype(np.intp),
        first=(places == 1).mean(axis=0),
        level=level,
    )


def rank_interval(
    estimates: Estimates,
    entry: Hashable,
    level: float = 0.95,
    *,
    draws: int = 20_000,
    seed: int = SEED,
) -> tuple[int, int]:
    """Give the places one entry might deserve without any view of the field as a whole.

    Parameters
    ----------
    estimates : Estimates
    entry : hashable
    level : float
    draws, seed : int

    Returns
    -------
    low, high : int

    Raises
    ------
    ValueError
        When the entry has no estimate.

    Notes
    -----
    The entry is held against every other at once; those clearly better or worse are set aside and
    the rest is tested again, until nothing more is clear. Wider than `rank_uncertainty`.

    Source
    ------
    Mogstad, M., Romano, J. P., Shaikh, A. M. & Wilhelm, D., Inference for ranks, Review of Economic
    Studies, 2023.

    Example
    -------
    >>> seen = Estimates(("A", "B", "C"), np.array([9.0, 6.0, 5.9]), 0.05 * np.eye(3), 20)
    >>> rank_interval(seen, "B")
    (2, 3)
    """
    if entry not in estimates.entries:
        raise ValueError(f"There is no estimate of {entry}.")
    n, mine = len(estimates.entries), estimates.entries.index(entry)
    others = np.delete(np.arange(n), mine)
    contrast = np.eye(n)[others] - np.eye(n)[mine]
    spread = contrast @ estimates.covariance @ contrast.T
    error = np.sqrt(np.clip(np.diag(spread), 1e-300, None))
    t = (contrast @ estimates.value) / error
    scale, axes = np.linalg.eigh(spread / np.outer(error, error))
    rng = np.random.default_rng(seed)
    drawn = rng.normal(size=(draws, n - 1)) @ (axes * np.sqrt(np.clip(scale, 0.0, None))).T
    if math.isfinite(estimates.df):
        drawn *= np.sqrt(estimates.df / rng.chisquare(estimates.df, size=(draws, 1)))
    drawn = np.abs(drawn)
    open_ = np.ones(n - 1, dtype=bool)
    while open_.any():
        limit = float(np.quantile(drawn[:, open_].max(axis=1), level))
        clear = open_ & (np.abs(t) > limit)
        if not clear.any():
            break
        open_ &= ~clear
    better = int(np.count_nonzero(~open_ & (t > 0)))
    worse = int(np.count_nonzero(~open_ & (t < 0)))
    return 1 + better, n - worse


def _shrink(value: Floats, covariance: Floats) -> tuple[Floats, Floats]:
    """Mean and covariance of the true figures, given a normal field of entries."""
    n, noise = len(value), mean_variance(covariance)
    spread = max(float(np.var(value, ddof=1)) - noise, LEAST_SPREAD * noise)
    if spread <= 0.0:
        return value, covariance
    gain = spread * np.linalg.inv(spread * np.eye(n) + covariance)
    centre = float((gain @ value).sum() / gain.sum())
    return centre + gain @ (value - centre), gain @ covariance
