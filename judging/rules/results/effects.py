"""What each entry earned and how strict each judge was, estimated together."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import ArrayLike

from judging.rules.results.crossed import CrossedFit, fit_crossed
from judging.rules.results.labels import Codes, Floats, Labels, encode, finite_scores

__all__ = ["AdditiveFit", "CrossedFit", "Crossing", "crossing", "fit_additive", "fit_crossed"]

# A leverage this near to 1 differs from it by rounding only: the smallest honest gap,
# one closed ring of 400 judges, is about 1/800.
FULL_LEVERAGE = 1.0 - 1e-8
# Residuals below this share of the largest score are rounding of the arithmetic.
ROUNDING_SHARE = 1e-11


@dataclass(frozen=True, eq=False)
class Crossing:
    """Which judge saw which entry, factorised once for any number of score columns.

    Attributes
    ----------
    entry_code, judge_code : ndarray of int, shape (n,)
        Position of the entry and of the judge of each score.
    share : ndarray of float, shape (n_entries, n_judges)
        Share of an entry's scores that came from each judge; rows sum to 1.
    scores_of_entry : ndarray of float, shape (n_entries,)
        Number of scores of each entry.
    inverse : ndarray of float, shape (n_judges, n_judges)
        Moore-Penrose inverse of the judges' reduced normal matrix.
    entry_component, judge_component : ndarray of int
        Connected part of the entry-judge graph, numbered from 0.
    n_components : int
        Number of such parts.
    entry_variance : ndarray of float, shape (n_entries,)
        Variance of the adjusted mean in units of the residual variance.
    leverage : ndarray of float, shape (n,)
        Weight of a score in its own fitted value; exactly 1 where the score alone decides it.
    df : int
        Residual degrees of freedom, n - n_entries - n_judges + n_components.
    """

    entry_code: Codes
    judge_code: Codes
    share: Floats
    scores_of_entry: Floats
    inverse: Floats
    entry_component: Codes
    judge_component: Codes
    n_components: int
    entry_variance: Floats
    leverage: Floats
    df: int

    def solve(self, score: Floats) -> tuple[Floats, Floats, Floats]:
        """Fit several score columns seen by the same judges on the same entries.

        Parameters
        ----------
        score : ndarray of float, shape (n, n_columns) [points]
            One column for each criterion, in the order of the codes.

        Returns
        -------
        adjusted_mean : ndarray of float, shape (n_entries, n_columns) [points]
        judge_effect : ndarray of float, shape (n_judges, n_columns) [points]
        residual : ndarray of float, shape (n, n_columns) [points]

        Notes
        -----
        The entries are eliminated, so only a system as large as the number of judges is solved.

        Source
        ------
        Intra-block analysis: Cochran, W. G. & Cox, G. M., Experimental Designs, 2nd ed., 1957,
        ch. 9 (chapter from memory).

        Example
        -------
        >>> seen = crossing(np.array([0, 0, 1, 1]), np.array([0, 1, 0, 1]))
        >>> seen.solve(np.array([[8.0], [6.0], [5.0], [3.0]]))[0].ravel().tolist()
        [7.0, 4.0]
        """
        centre = score.mean(axis=0)
        y = score - centre
        entry_mean = _incidence(self.entry_code) @ y / self.scores_of_entry[:, None]
        judge_excess = _incidence(self.judge_code) @ (y - entry_mean[self.entry_code])
        judge_effect = self.inverse @ judge_excess
        entry_effect = entry_mean - self.share @ judge_effect
        residual = y - entry_effect[self.entry_code] - judge_effect[self.judge_code]
        residual[np.abs(residual) < ROUNDING_SHARE * np.abs(score).max()] = 0.0
        return entry_effect + centre, judge_effect, residual

    def covariance(self) -> Floats:
        """Covariance of the adjusted means in units of the residual variance.

        Returns
        -------
        ndarray of float, shape (n_entries, n_entries)

        Example
        -------
        >>> seen = crossing(np.array([0, 0, 1, 1]), np.array([0, 1, 0, 1]))
        >>> seen.covariance().round(9).tolist()
        [[0.5, 0.0], [0.0, 0.5]]
        """
        spread: Floats = self.share @ self.inverse @ self.share.T
        return spread + np.diag(1.0 / self.scores_of_entry)

    def residual_maker(self) -> Floats:
        """Matrix which turns scores into residuals; its diagonal is 1 less the leverage.

        Returns
        -------
        ndarray of float, shape (n, n)

        Example
        -------
        >>> seen = crossing(np.array([0, 0, 1, 1]), np.array([0, 1, 0, 1]))
        >>> seen.residual_maker().diagonal().tolist()
        [0.25, 0.25, 0.25, 0.25]
        """
        n = self.entry_code.size
        excess = -self.share[self.entry_code]
        excess[np.arange(n), self.judge_code] += 1.0
        maker: Floats = np.eye(n) - excess @ self.inverse @ excess.T
        same = self.entry_code[:, None] == self.entry_code
        maker -= same / self.scores_of_entry[self.entry_code]
        return maker


@dataclass(frozen=True, eq=False)
class AdditiveFit:
    """Adjusted means of the entries and habits of the judges, with what is left over.

    Attributes
    ----------
    entries, judges : tuple
        Labels, sorted; in order of first appearance where labels cannot be sorted.
    adjusted_mean, standard_error : ndarray of float, shape (n_entries,) [points]
        Mean of the entry as if every judge of its component had scored it once. The standard
        error is nan when ``df`` is 0.
    judge_effect, judge_standard_error : ndarray of float, shape (n_judges,) [points]
        How much higher than the judges of the same component this judge scores; sums to 0 there.
    residual : ndarray of float, shape (n,) [points]
    leverage : ndarray of float, shape (n,)
    df : int
        Residual degrees of freedom.
    sse : float [points squared]
        Sum of the squared residuals.
    sigma2 : float or None [points squared]
        ``sse / df``; None when ``df`` is 0.
    component : ndarray of int, shape (n_entries,)
        Connected part each entry belongs to.
    connected : bool
        Whether all entries can be compared.
    design : Crossing
        Who saw what; ``sigma2 * design.covariance()`` is the covariance of the adjusted means.
    """

    entries: tuple[Hashable, ...]
    judges: tuple[Hashable, ...]
    adjusted_mean: Floats
    standard_error: Floats
    judge_effect: Floats
    judge_standard_error: Floats
    residual: Floats
    leverage: Floats
    df: int
    sse: float
    sigma2: float | None
    component: Codes
    connected: bool
    design: Crossing

    @property
    def groups(self) -> tuple[tuple[Hashable, ...], ...]:
        """Entries which judges link to one another; one group when the panel is connected."""
        return tuple(
            tuple(
                name for name, part in zip(self.entries, self.component, strict=True) if part == n
            )
            for n in np.unique(self.component)
        )


def crossing(entry_code: Codes, judge_code: Codes) -> Crossing:
    """Work out how the judges and entries are linked before any score is looked at.

    Parameters
    ----------
    entry_code, judge_code : ndarray of int, shape (n,)
        Codes 0, 1, ... without gaps. A pair may occur more than once.

    Returns
    -------
    Crossing

    Notes
    -----
    With N the entry by judge counts, r the row sums and c the column sums, the judges' reduced
    normal matrix is C = diag(c) - N' diag(1/r) N. Its null space is spanned by the indicators of
    the connected components, hence C+ = (C + P)^-1 - P with P the projection on that space.

    Example
    -------
    >>> crossing(np.array([0, 0, 1, 1]), np.array([0, 1, 0, 1])).leverage.tolist()
    [0.75, 0.75, 0.75, 0.75]
    """
    n_entries, n_judges = int(entry_code.max()) + 1, int(judge_code.max()) + 1
    n_components, found = scipy.sparse.csgraph.connected_components(
        scipy.sparse.coo_array(
            (np.ones(entry_code.size), (entry_code, judge_code + n_entries)),
            shape=(n_entries + n_judges, n_entries + n_judges),
        ),
        directed=False,
    )
    part: Codes = found.astype(np.intp)
    cell = entry_code * n_judges + judge_code
    tally = np.bincount(cell, minlength=n_entries * n_judges)
    counts: Floats = tally.reshape(n_entries, n_judges).astype(np.float64)
    scores_of_entry = counts.sum(axis=1)
    share = counts / scores_of_entry[:, None]
    inverse = _reduced_inverse(counts, share, part[n_entries:])
    spread = share @ inverse
    entry_variance = 1.0 / scores_of_entry + np.einsum("ij,ij->i", spread, share)
    leverage = (
        entry_variance[entry_code]
        - 2.0 * spread[entry_code, judge_code]
        + np.diag(inverse)[judge_code]
    )
    leverage[leverage > FULL_LEVERAGE] = 1.0
    return Crossing(
        entry_code=entry_code,
        judge_code=judge_code,
        share=share,
        scores_of_entry=scores_of_entry,
        inverse=inverse,
        entry_component=part[:n_entries],
        judge_component=part[n_entries:],
        n_components=int(n_components),
        entry_variance=entry_variance,
        leverage=leverage,
        df=int(entry_code.size - n_entries - n_judges + n_components),
    )


def fit_additive(entry: Labels, judge: Labels, score: ArrayLike) -> AdditiveFit:
    """Estimate every entry as if all judges had seen it, and every judge's strictness.

    Parameters
    ----------
    entry : sequence of hashable, shape (n,)
        Entry of each score.
    judge : sequence of hashable, shape (n,)
        Judge of each score. A judge need not have seen every entry.
    score : array_like of float, shape (n,) [points]

    Returns
    -------
    AdditiveFit

    Raises
    ------
    ValueError
        When the lists differ in length, are empty, or a score is not finite.

    Notes
    -----
    Unweighted least squares for m_ij = mu + a_i + b_j + e_ij. The adjusted mean is
    mu + a_i + the plain average of all b_j; the standard errors rest on sigma2 = SSE / df. In a
    complete panel the adjusted mean is the raw mean. A missing score is left out, never 0. If the
    entry-judge graph falls into several components, each component is adjusted by itself: the
    average is over its own judges, and numbers of different components cannot be compared
    (``connected`` is then False).

    Source
    ------
    Intra-block analysis of incomplete blocks: Montgomery, D. C., Design and Analysis of
    Experiments, 2001, sec. 4-4; Cochran, W. G. & Cox, G. M., Experimental Designs, 2nd ed., 1957,
    ch. 9 (section numbers from memory).

    Example
    -------
    Bell was seen by the two milder judges only, yet stands level with Ace:

    >>> fit = fit_additive(
    ...     ["Ace", "Ace", "Ace", "Bell", "Bell", "Cook", "Cook", "Cook"],
    ...     ["J1", "J2", "J3", "J2", "J3", "J1", "J2", "J3"],
    ...     [5, 7, 9, 7, 9, 4, 6, 8],
    ... )
    >>> fit.adjusted_mean.round(9).tolist()
    [7.0, 7.0, 6.0]
    >>> (fit.judge_effect.round(9) + 0.0).tolist()
    [-2.0, 0.0, 2.0]
    """
    values = finite_scores(score, entry=entry, judge=judge)
    entries, entry_code = encode(entry)
    judges, judge_code = encode(judge)
    design = crossing(entry_code, judge_code)
    adjusted_mean, judge_effect, residual = design.solve(values[:, None])
    sse = float(np.sum(residual**2))
    sigma2 = sse / design.df if design.df > 0 else None
    scale = float("nan") if sigma2 is None else sigma2
    judge_variance = np.clip(np.diag(design.inverse), 0.0, None)
    return AdditiveFit(
        entries=entries,
        judges=judges,
        adjusted_mean=adjusted_mean[:, 0],
        standard_error=np.sqrt(scale * design.entry_variance),
        judge_effect=judge_effect[:, 0],
        judge_standard_error=np.sqrt(scale * judge_variance),
        residual=residual[:, 0],
        leverage=design.leverage,
        df=design.df,
        sse=sse,
        sigma2=sigma2,
        component=design.entry_component,
        connected=design.n_components == 1,
        design=design,
    )


def _incidence(code: Codes) -> scipy.sparse.csr_array:
    """Sum over the scores of each label, as a sparse matrix."""
    n = code.size
    return scipy.sparse.csr_array(
        (np.ones(n), (code, np.arange(n))), shape=(int(code.max()) + 1, n)
    )


def _reduced_inverse(counts: Floats, share: Floats, judge_component: Codes) -> Floats:
    """Moore-Penrose inverse of the judges' reduced normal matrix."""
    reduced = np.diag(counts.sum(axis=0)) - share.T @ counts
    same = judge_component[:, None] == judge_component[None, :]
    projection = same / same.sum(axis=1)[:, None]
    # Scaling the projection like the matrix keeps the sum well conditioned.
    weight = max(float(np.trace(reduced)) / len(reduced), 1.0)
    inverse: Floats = np.linalg.inv(reduced + weight * projection) - projection / weight
    return inverse
