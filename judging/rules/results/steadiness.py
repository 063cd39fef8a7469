"""How steady each judge is: a noise level of the judge's own, also in incomplete panels."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass

import numpy as np

from judging.rules.results.labels import Floats
from judging.rules.results.panel import Analysis, Design

# Marks' worth of belief that judges are alike; what the marks say outweighs it soon.
PRIOR_DF = 8.0
# No judge is taken to be steadier than this share of the common noise level.
LEAST_SHARE = 0.05
# More than this many numbers are not laid out at once: one noise level then serves all judges.
LARGEST_LAYOUT = 40_000_000
ROUNDING = 1e-12


@dataclass(frozen=True, eq=False)
class Steadiness:
    """Noise of each judge's marks.

    Attributes
    ----------
    judges : tuple
    variance : ndarray of float, shape (n_judges,) [points squared]
        Unbiased, so it may fall below 0; nan where it cannot be told apart from the others', as
        with two judges.
    sum_of_squares : ndarray of float, shape (n_judges,) [points squared]
        Of the judge's residuals (ecovalence).
    information : ndarray of float, shape (n_judges, n_judges)
        Expected sums of squares per unit of each judge's variance; adds up to ``df``.
    pooled : float [points squared]
        One noise level for all; nan when ``df`` is 0.
    df : int
    """

    judges: tuple[Hashable, ...]
    variance: Floats
    sum_of_squares: Floats
    information: Floats
    pooled: float
    df: int


def steadiness(analysis: Analysis) -> Steadiness:
    """Split the noise of the panel between its judges.

    Parameters
    ----------
    analysis : Analysis

    Returns
    -------
    Steadiness

    Notes
    -----
    A residual mixes the noise of all judges of its criterion: with the residual maker R of a
    criterion, the sum of squares of judge j's residuals has expectation sum_j' A_jj' v_j', where
    A_jj' adds up R^2 between the marks of j and j'. The variances solve these equations. In a
    complete panel that is Shukla's stability variance, and Grubbs' estimator for three judges.

    Source
    ------
    Shukla, G. K., Heredity 29, 237-245, 1972; Grubbs, F. E., Journal of the American Statistical
    Association 43, 243-264, 1948; incomplete panels as Rao, C. R., MINQUE, 1970 (from memory).

    Example
    -------
    >>> from judging.rules.results.panel import analyse, read_marks
    >>> table = [[5, 5, 7], [6, 6, 4], [8, 8, 9], [3, 3, 3]]
    >>> entry, judge = (axis.ravel() for axis in np.indices((4, 3)))
    >>> marks = read_marks(entry, judge, [0] * 12, np.ravel(table))
    >>> steadiness(analyse(marks)).variance.round(2).clip(0).tolist()
    [0.0, 0.0, 2.92]
    """
    marks = analysis.marks
    n = len(marks.judges)
    information = np.zeros((n, n))
    for design in analysis.designs:
        squares = _squares(design, n)
        per_judge = np.zeros((n, n))
        np.add.at(per_judge, design.judge, squares)
        information += len(design.position) * per_judge
    sums = np.bincount(marks.judge, weights=analysis.residual**2, minlength=n)
    inverse = np.linalg.pinv(information, rcond=1e-9, hermitian=True)
    told = np.abs(np.diag(inverse @ information) - 1.0) < 1e-6
    return Steadiness(
        judges=marks.judges,
        variance=np.where(told, inverse @ sums, np.nan),
        sum_of_squares=sums.astype(np.float64),
        information=information,
        pooled=analysis.sse / analysis.df if analysis.df else float("nan"),
        df=analysis.df,
    )


def fits_in_memory(analysis: Analysis) -> bool:
    """Whether the panel is small enough to give each judge a noise level of the judge's own."""
    n = len(analysis.marks.judges)
    return all(
        max(design.judge.size, n * len(design.position)) * design.judge.size <= LARGEST_LAYOUT
        for design in analysis.designs
    )


def careful_variances(noise: Steadiness) -> Floats:
    """Judges' noise variances for use as a scale: drawn towards the common one.

    Parameters
    ----------
    noise : Steadiness

    Returns
    -------
    ndarray of float, shape (n_judges,) [points squared]
        All equal to the common one where the judges cannot be told apart.

    Example
    -------
    >>> alike = Steadiness(("A", "B"), np.full(2, np.nan), np.array([6.0, 6.0]),
    ...                    np.full((2, 2), 3.0), 1.0, 12)
    >>> careful_variances(alike).tolist()
    [1.0, 1.0]
    """
    lean, rows = _lean(noise)
    return _leaning(noise.sum_of_squares, noise.pooled, rows, lean)


def own_scale(analysis: Analysis, noise: Steadiness) -> tuple[Floats, Floats]:
    """Standard error of each residual, from the noise that the other marks show.

    Parameters
    ----------
    analysis : Analysis
    noise : Steadiness
        Of the same analysis.

    Returns
    -------
    error : ndarray of float, shape (n,) [points]
        With the mark in question left out of every sum; nan where its leverage is 1.
    df : ndarray of float, shape (n,)
        Degrees of freedom behind it, with the mark left out.

    Notes
    -----
    The judges' variances are drawn towards the common one with the weight of ``PRIOR_DF`` marks,
    and kept above ``LEAST_SHARE`` of it. Degrees of freedom by Satterthwaite.

    Source
    ------
    Shukla 1972, as `steadiness`; Satterthwaite, F. E., Biometrics Bulletin 2, 1946 (from memory).
    The leaning towards one common level is our own choice; simulations in the tests are its
    evidence.

    Example
    -------
    >>> from judging.rules.results.panel import analyse, read_marks
    >>> entry, judge, row = (axis.ravel() for axis in np.indices((6, 3, 4)))
    >>> found = analyse(read_marks(entry, judge, row, np.arange(72) % 7))
    >>> bool((own_scale(found, steadiness(found))[1] < found.df).all())
    True
    """
    n, size = len(noise.judges), analysis.residual.size
    error, df = np.full(size, np.nan), np.full(size, np.nan)
    lean, rows = _lean(noise)
    variance = careful_variances(noise)
    # What a judge's variance owes to each sum of squares.
    weight = np.full((n, n), 1.0 / noise.df) + lean @ (np.eye(n) - rows[:, None] / noise.df)
    spread = variance[:, None] * noise.information * variance
    for design in analysis.designs:
        squares = _squares(design, n)
        spare = np.where(design.seen.leverage < 1.0, 1.0 - design.seen.leverage, np.nan)
        own = np.eye(n)[design.judge]
        left = analysis.residual[design.position].T
        out = left / spare[:, None]
        mixed = (left[:, :, None] * own[:, None, :]).reshape(len(left), -1)
        owed = (design.maker @ mixed).reshape(*left.shape, n)
        sums = noise.sum_of_squares - 2.0 * out[:, :, None] * owed
        sums += out[:, :, None] ** 2 * squares[:, None, :]
        rest = sums.sum(axis=2)
        sums[rest <= ROUNDING * analysis.sse] = 0.0
        rest = sums.sum(axis=2) / (noise.df - 1)
        kept = rows - squares / spare[:, None]
        each = _leaning(sums, rest[:, :, None], kept[:, None, :], lean)
        error[design.position] = np.sqrt(np.einsum("ckj,cj->kc", each, squares))
        through = squares @ weight
        share = np.einsum("ci,ij,cj->c", through, spread, through)
        with np.errstate(invalid="ignore", divide="ignore"):
            df[design.position] = (squares @ variance) ** 2 / share - 1.0
    whole = float(noise.df - 1)
    return error, np.clip(np.where(np.isnan(df), whole, df), 1.0, whole)


def _squares(design: Design, n_judges: int) -> Floats:
    """Squared weights of each judge's marks in each residual, shape (n_cards, n_judges)."""
    weight: Floats = design.maker**2 @ np.eye(n_judges)[design.judge]
    return weight


def _lean(noise: Steadiness) -> tuple[Floats, Floats]:
    """What draws the judges' variances towards the common one, and marks' worth of each judge."""
    lean = np.linalg.inv(noise.information + PRIOR_DF * np.eye(len(noise.judges)))
    return lean.astype(np.float64), noise.information.sum(axis=1)


def _leaning(sums: Floats, pooled: Floats | float, rows: Floats, lean: Floats) -> Floats:
    """Judges' variances drawn towards the common one."""
    variance = pooled + (sums - pooled * rows) @ lean
    return np.maximum(variance, LEAST_SHARE * pooled)
