"""How sure an order is: totals with their errors, and the chance that one is ahead of another."""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
import scipy

from judging.rules.results.crossed import CrossedFit
from judging.rules.results.effects import AdditiveFit
from judging.rules.results.labels import Floats
from judging.rules.results.reml import LEAST_RATIO

TOLD_APART = 0.95
# A variance below this share of the squared figures is what rounding leaves of none.
ROUNDING = 1e-20


@dataclass(frozen=True, eq=False)
class Estimates:
    """Figures of entries with the errors they carry.

    Attributes
    ----------
    entries : tuple
    value : ndarray of float, shape (n_entries,) [points]
    covariance : ndarray of float, shape (n_entries, n_entries) [points squared]
    df : float
        Degrees of freedom behind the covariance; inf when it is known.
    """

    entries: tuple[Hashable, ...]
    value: Floats
    covariance: Floats
    df: float

    @property
    def difference_error(self) -> Floats:
        """Standard errors of all differences, shape (n_entries, n_entries) [points]."""
        own = np.diag(self.covariance)
        variance = own[:, None] + own - 2.0 * self.covariance
        error: Floats = np.sqrt(np.clip(variance, 0.0, None))
        return error


@dataclass(frozen=True)
class Neighbours:
    """Two entries next to each other in the placings.

    Attributes
    ----------
    ahead, behind : hashable
    chance : float
        Chance that the one placed ahead is really better, as far as these marks tell.
    told_apart : bool
        Whether that chance is 95 % or more.
    sentence : str
    """

    ahead: Hashable
    behind: Hashable
    chance: float
    told_apart: bool
    sentence: str


def of_sections(fits: Mapping[str, AdditiveFit], judges: Mapping[str, int]) -> Estimates:
    """Total up the adjusted means of the sections with their errors.

    Parameters
    ----------
    fits : mapping of section to AdditiveFit
        Of the judges' section points. One fit of the judges' totals, where the same judges marked
        all sections, is better: it keeps a liking that runs through the sections.
    judges : mapping of section to int
        Judges whose points count for the total.

    Returns
    -------
    Estimates
        Of the entries which every section has.

    Raises
    ------
    ValueError
        When there is no section, a section's judges do not link its entries, one leaves no
        degrees of freedom, or the judges differ nowhere by more than a constant: then these marks
        do not say how sure anything is.

    Notes
    -----
    Sections are taken as independent; degrees of freedom by Satterthwaite.

    Source
    ------
    Satterthwaite, F. E., Biometrics Bulletin 2, 1946 (from memory).

    Example
    -------
    >>> from judging.rules.results.effects import fit_additive
    >>> fit = fit_additive(list("AABBCC"), list("XYXYXY"), [5, 6, 7, 9, 3, 3])
    >>> of_sections({"trail": fit}, {"trail": 2}).value.round(9).tolist()
    [11.0, 16.0, 6.0]
    """
    if not fits:
        raise ValueError("There is no section to total up.")
    common = [
        entry
        for entry in next(iter(fits.values())).entries
        if all(entry in fit.entries for fit in fits.values())
    ]
    value = np.zeros(len(common))
    covariance = np.zeros((len(common), len(common)))
    squares = 0.0
    for section, fit in fits.items():
        if not fit.connected:
            named = "; ".join(", ".join(str(entry) for entry in group) for group in fit.groups)
            raise ValueError(f"In section {section} no judge links these groups: {named}.")
        if fit.sigma2 is None:
            raise ValueError(f"Section {section} has no spare score: its errors cannot be told.")
        where = [fit.entries.index(entry) for entry in common]
        part = fit.sigma2 * judges[section] ** 2 * fit.design.covariance()[np.ix_(where, where)]
        value += judges[section] * fit.adjusted_mean[where]
        covariance += part
        squares += mean_variance(part) ** 2 / fit.df
    whole = mean_variance(covariance)
    _demand_errors(whole, ROUNDING, value)
    df = whole**2 / squares if squares > 0.0 else math.inf
    return Estimates(tuple(common), value, covariance, df)


def of_crossed(fit: CrossedFit) -> Estimates:
    """Take the predictions of a mixed model with their errors.

    Parameters
    ----------
    fit : CrossedFit

    Returns
    -------
    Estimates
        Already shrunk; chances and intervals follow from them without more shrinking.

    Raises
    ------
    ValueError
        When judges do not link the entries, or the errors cannot be told, also because the judges
        differ nowhere by more than a constant.

    Example
    -------
    >>> from judging.rules.results.effects import fit_crossed
    >>> fit = fit_crossed(list("AABBCC"), list("XYXYXY"), [5, 6, 7, 9, 3, 3])
    >>> of_crossed(fit).entries
    ('A', 'B', 'C')
    """
    if not fit.connected or not math.isfinite(fit.variance_residual):
        raise ValueError(" ".join(fit.cannot_tell))
    covariance = fit.entry_covariance()
    # The search for the variances does not go lower than this.
    _demand_errors(fit.variance_residual, LEAST_RATIO, fit.entry_effect)
    return Estimates(fit.entries, fit.entry_effect, covariance, float(fit.residual_df))


def _demand_errors(variance: float, least: float, value: Floats) -> None:
    """Refuse marks that agree to the point; no spread seen is no proof that there is none."""
    if variance <= least * float(np.square(value).max(initial=0.0)):
        raise ValueError(
            "How sure the places are cannot be told: each judge differs from the others by the "
            "same points at every entry, so nothing shows how far a mark may be off."
        )


def chances_ahead(estimates: Estimates) -> Floats:
    """Give the chance that each entry is really better than each other.

    Parameters
    ----------
    estimates : Estimates

    Returns
    -------
    ndarray of float, shape (n_entries, n_entries)
        Row ahead of column; 0.5 on the diagonal.

    Notes
    -----
    Student's t of the difference over its error: the chance a judge of the evidence with no
    opinion beforehand should have. It covers what the judges' disagreement shows, no more: a
    mistake which all judges share is not in it.

    Source
    ------
    Flat prior: Gelman, A. et al., Bayesian Data Analysis (from memory).

    Example
    -------
    >>> chances_ahead(Estimates(("A", "B"), np.array([8.0, 7.0]), 0.5 * np.eye(2), 8)).round(2)
    array([[0.5 , 0.83],
           [0.17, 0.5 ]])
    """
    gap = estimates.value[:, None] - estimates.value
    error = estimates.difference_error
    with np.errstate(divide="ignore", invalid="ignore"):
        t = np.where(gap == 0.0, 0.0, gap / error)
    df = min(estimates.df, 1e9)
    return scipy.special.stdtr(df, t).astype(np.float64)


def neighbours(estimates: Estimates, placed: Sequence[Hashable]) -> tuple[Neighbours, ...]:
    """Say of each two neighbours in the placings whether these marks tell them apart.

    Parameters
    ----------
    estimates : Estimates
    placed : sequence of hashable
        Entries in the order of their places, the winner first.

    Returns
    -------
    tuple of Neighbours

    Raises
    ------
    ValueError
        When an entry has no estimate.

    Source
    ------
    Common practice, no source (the line at 95 %).

    Example
    -------
    >>> seen = Estimates(("A", "B"), np.array([8.0, 7.0]), 0.5 * np.eye(2), 8)
    >>> neighbours(seen, ["A", "B"])[0].sentence
    'First and second cannot be told apart by these marks; the rules decide.'
    """
    position = {entry: index for index, entry in enumerate(estimates.entries)}
    unknown = [str(entry) for entry in placed if entry not in position]
    if unknown:
        raise ValueError(f"There is no estimate of {', '.join(unknown)}.")
    chances = chances_ahead(estimates)
    found = []
    for place, (ahead, behind) in enumerate(pairwise(placed), start=1):
        chance = float(chances[position[ahead], position[behind]])
        told = chance >= TOLD_APART
        found.append(Neighbours(ahead, behind, chance, told, _sentence(place, chance, told)))
    return tuple(found)


def simultaneous_differences(estimates: Estimates, level: float = 0.95) -> tuple[Floats, Floats]:
    """Give intervals of all differences which hold all at once.

    Parameters
    ----------
    estimates : Estimates
    level : float

    Returns
    -------
    low, high : ndarray of float, shape (n_entries, n_entries) [points]
        Of row less column.

    Raises
    ------
    ValueError
        When there are fewer than two entries.

    Notes
    -----
    Exact for equal errors, careful otherwise. Use it only for a claim about the whole list.

    Source
    ------
    Tukey's studentized range: NIST/SEMATECH e-Handbook of Statistical Methods, 7.4.7.1; Kramer,
    C. Y., 1956, for unequal errors (from memory).

    Example
    -------
    >>> low, high = simultaneous_differences(
    ...     Estimates(("A", "B"), np.array([8.0, 7.0]), 0.5 * np.eye(2), 8))
    >>> round(float(low[0, 1]), 2), round(float(high[0, 1]), 2)
    (-1.31, 3.31)
    """
    n = len(estimates.entries)
    if n < 2:
        raise ValueError("Differences need two entries.")
    gap = estimates.value[:, None] - estimates.value
    quantile = _range_quantile(level, n, min(estimates.df, 1e5))
    reach = quantile * estimates.difference_error / math.sqrt(2)
    return gap - reach, gap + reach


@lru_cache(maxsize=64)
def _range_quantile(level: float, n: int, df: float) -> float:
    """Quantile of the studentized range, which takes long to find."""
    return float(scipy.stats.studentized_range.ppf(level, n, df))


def mean_variance(covariance: Floats) -> float:
    """Mean variance of the figures about their own mean.

    Example
    -------
    >>> mean_variance(2.0 * np.eye(3))
    2.0
    """
    n = len(covariance)
    return float(np.trace(covariance) - covariance.sum() / n) / max(n - 1, 1)


def _sentence(place: int, chance: float, told: bool) -> str:
    words = {1: "first", 2: "second", 3: "third", 4: "fourth", 5: "fifth"}
    ahead, behind = words.get(place), words.get(place + 1)
    names = f"{ahead} and {behind}" if ahead and behind else f"places {place} and {place + 1}"
    if not told:
        return f"{names.capitalize()} cannot be told apart by these marks; the rules decide."
    percent = min(math.floor(100 * chance), 99)
    return f"{names.capitalize()} are in this order with a chance of {percent} in 100 or more."
