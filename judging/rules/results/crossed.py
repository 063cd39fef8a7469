"""How much entries, judges and single cards differ, estimated by restricted maximum likelihood."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import ArrayLike

from judging.rules.results.labels import Codes, Floats, Labels, encode, finite_scores
from judging.rules.results.reml import Absorbed, Cells, absorb, cells_of, connected_parts

# Ratios of standard deviations to that of the residual. At nought the slope vanishes whether or
# not nought is best, so the search keeps off it; above the largest the residual is rounding.
SMALLEST_RATIO, LARGEST_RATIO = 1e-3, 1e4
# A variance whose absence costs less deviance than this is nought.
NO_MATTER = 1e-6
# Sum of squares, as a share of that of the scores, which is rounding of the arithmetic.
ROUNDING = 1e-20


@dataclass(frozen=True, eq=False)
class CrossedFit:
    """Variances of entries, judges, cards and noise, and what each entry and judge stands for.

    Attributes
    ----------
    entries, judges, criteria : tuple
        Labels, sorted. ``criteria`` is empty when none were given.
    mean, mean_error : ndarray of float, shape (n_criteria or 1,) [points]
        Mean of each criterion over all entries and judges that could be, with its standard error.
    entry_effect, entry_error : ndarray of float, shape (n_entries,) [points]
        Best prediction (BLUP) of how far an entry stands from the mean: shrunk towards nought, the
        more the less is known of it; and the root of its prediction error variance.
    judge_effect, judge_error : ndarray of float, shape (n_judges,) [points]
        The same for how high a judge scores.
    card_effect : ndarray of float, shape (n_cards,) [points]
        What a judge's card of an entry adds to both; empty without the card term.
    card_entry, card_judge : ndarray of int, shape (n_cards,)
        Entry and judge of each card, as positions in ``entries`` and ``judges``.
    variance_entry, variance_judge, variance_card, variance_residual : float [points squared]
        nan where the scores cannot tell it; ``cannot_tell`` says why.
    reml : float
        Restricted deviance (-2 log likelihood), constants included.
    df : int
        Scores less means fitted.
    residual_df : int
        What is left after entries, judges and cards.
    groups : tuple of tuple
        Entries which judges link to one another; one group when the panel is connected.
    cannot_tell : tuple of str
        Sentences on what these scores leave open.
    """

    entries: tuple[Hashable, ...]
    judges: tuple[Hashable, ...]
    criteria: tuple[Hashable, ...]
    mean: Floats
    mean_error: Floats
    entry_effect: Floats
    entry_error: Floats
    judge_effect: Floats
    judge_error: Floats
    card_effect: Floats
    card_entry: Codes
    card_judge: Codes
    variance_entry: float
    variance_judge: float
    variance_card: float
    variance_residual: float
    reml: float
    df: int
    residual_df: int
    groups: tuple[tuple[Hashable, ...], ...]
    cannot_tell: tuple[str, ...]
    _state: Absorbed

    @property
    def connected(self) -> bool:
        """Whether judges link all entries."""
        return len(self.groups) == 1

    def entry_covariance(self, positions: Sequence[int] | None = None) -> Floats:
        """Covariance of the prediction errors of entries.

        Parameters
        ----------
        positions : sequence of int, optional
            Positions in ``entries``; all of them when left out.

        Returns
        -------
        ndarray of float, shape (n, n) [points squared]
            The variance of a difference is the sum of two diagonal elements less twice the other.

        Example
        -------
        >>> fit = fit_crossed(list("AABBCC"), list("XYXYXY"), [5, 6, 7, 9, 3, 3])
        >>> errors = fit.entry_covariance()
        >>> bool(np.allclose(np.sqrt(np.diag(errors)), fit.entry_error))
        True
        """
        which = slice(None) if positions is None else list(positions)
        ratio = self._state.ratios[0]
        shrink = (ratio**2 / self._state.entry_weight)[which]
        spread = shrink[:, None] * self._state.entry_links()[which]
        inverse = self._state.inverse_and_solution()[0]
        covariance: Floats = spread @ inverse @ spread.T + np.diag(shrink)
        return self.variance_residual * covariance


def fit_crossed(
    entry: Labels,
    judge: Labels,
    score: ArrayLike,
    criterion: Labels | None = None,
    *,
    card: bool = False,
) -> CrossedFit:
    """Tell apart what entries, judges, single cards and plain noise add to the scores.

    Parameters
    ----------
    entry, judge : sequence of hashable, shape (n,)
    score : array_like of float, shape (n,) [points]
        Missing scores are left out; any pattern will do.
    criterion : sequence of hashable, shape (n,), optional
        When given, each criterion has a mean of its own.
    card : bool
        Fit a term for each judge's card of each entry. It needs cards with several scores. For
        scores of criteria it is essential: judges do differ on an entry as a whole, and without
        it the errors of the entries come out several times too small.

    Returns
    -------
    CrossedFit
        Where the scores leave something open (one judge, one entry, all scores equal, nothing to
        spare) that variance is nan, or nought, and ``cannot_tell`` says why.

    Raises
    ------
    ValueError
        When lists differ in length, are empty, a score is not finite, or the card term is asked
        for and no card has two scores.

    Notes
    -----
    y = mean of the criterion + entry + judge (+ card) + noise, all but the mean random and normal,
    by restricted maximum likelihood. Cards and entries are absorbed, so each step factorises one
    matrix as large as judges and criteria together. A variance on the boundary is exactly 0. The
    errors take the variances as known. Entries of unlinked groups can be compared here only on
    the assumption that the groups' judges were drawn from one crowd by chance.

    Source
    ------
    Patterson, H. D. & Thompson, R., Biometrika 58, 545-554, 1971; Henderson's mixed model
    equations; Bates, D. M. et al., Journal of Statistical Software 67(1), 2015 (all from memory).

    Example
    -------
    >>> fit = fit_crossed(list("AABBCC"), list("XYXYXY"), [5, 6, 7, 9, 3, 3])
    >>> variances = fit.variance_entry, fit.variance_judge, fit.variance_residual
    >>> [round(variance, 2) for variance in variances]
    [6.0, 0.33, 0.5]
    >>> (fit.entry_effect.round(2) + 0.0).tolist()
    [0.0, 2.4, -2.4]
    """
    labels = {"entry": entry, "judge": judge}
    values = finite_scores(
        score, **labels, **({} if criterion is None else {"criterion": criterion})
    )
    entries, entry_code = encode(entry)
    judges, judge_code = encode(judge)
    criteria, criterion_code = encode(criterion if criterion is not None else [0] * values.size)
    cells = cells_of(entry_code, judge_code, criterion_code, values)
    n_parts, part = connected_parts(cells)
    residual_df = cells.n_scores - cells.n_entries - cells.n_judges + n_parts
    residual_df -= cells.n_criteria - 1
    if card:
        if not (cells.count > 1).any():
            raise ValueError("The card term needs cards with several scores; there are none.")
        residual_df = cells.n_scores - cells.n_criteria - cells.count.size + 1
    free = _free(cells, card)
    cannot = [*_cannot_tell(cells), *_unlinked(entries, part)]
    if residual_df < 1:
        cannot.append("Every score is needed to fit the rest: the noise cannot be told.")
    ratios = _estimate(cells, free) if residual_df >= 1 else np.zeros(3)
    state = absorb(cells, ratios)
    flat = residual_df >= 1 and state.quadratic <= ROUNDING * max(float(values @ values), 1.0)
    if flat:
        cannot.append("All scores are the same: nothing can be told of differences.")
        ratios = np.zeros(3)
        state = absorb(cells, ratios)
    df = cells.n_scores - cells.n_criteria
    noise = 0.0 if flat else state.quadratic / df if residual_df >= 1 else float("nan")
    variance = np.where(free, noise * ratios**2, np.nan)
    solved = _solve(cells, state, ratios, noise)
    return CrossedFit(
        entries=entries,
        judges=judges,
        criteria=criteria if criterion is not None else (),
        **solved,
        card_entry=cells.entry,
        card_judge=cells.judge,
        variance_entry=float(variance[0]),
        variance_judge=float(variance[1]),
        variance_card=float(variance[2]),
        variance_residual=noise,
        reml=float("nan") if flat or residual_df < 1 else state.deviance,
        df=df,
        residual_df=residual_df,
        groups=_groups(entries, part),
        cannot_tell=tuple(cannot),
        _state=state,
    )


def _free(cells: Cells, card: bool) -> Codes:
    """Which of entry, judge and card spread the scores can tell, as booleans."""
    return np.array([cells.n_entries > 1, cells.n_judges > 1, card])


def _estimate(cells: Cells, free: Codes) -> Floats:
    """Ratios of standard deviations to that of the noise which make the scores most likely."""
    which = np.flatnonzero(free)

    def ratios(part: Floats) -> Floats:
        whole = np.zeros(3)
        whole[which] = part
        return whole

    def deviance(part: Floats) -> float:
        return absorb(cells, ratios(part)).deviance

    def with_slope(part: Floats) -> tuple[float, Floats]:
        state = absorb(cells, ratios(part))
        return state.deviance, state.slope()[which]

    start = np.ones(which.size)
    if not which.size or not np.isfinite(deviance(start)):
        return ratios(0.0 * start)
    found = scipy.optimize.minimize(
        with_slope,
        start,
        method="L-BFGS-B",
        jac=True,
        bounds=[(SMALLEST_RATIO, LARGEST_RATIO)] * which.size,
        options={"ftol": 1e-13, "gtol": 1e-5, "maxiter": 200},
    )
    best, least = np.asarray(found.x, dtype=np.float64), float(found.fun)
    # The deviance is flat near nought: settle on the boundary where it is no worse.
    for index in range(which.size):
        without = best.copy()
        without[index] = 0.0
        if best[index] and deviance(without) <= least + NO_MATTER:
            best = without
    return ratios(best)


def _solve(cells: Cells, state: Absorbed, ratios: Floats, noise: float) -> dict[str, Floats]:
    """Means, predictions and their errors at these ratios."""
    n_judges, root = cells.n_judges, np.sqrt(noise)
    inverse, solution = state.inverse_and_solution()
    judge_effect, mean = ratios[1] * solution[:n_judges], solution[n_judges:]
    shrink = ratios[0] ** 2 / state.entry_weight
    entry_effect = shrink * (state.entry_right - state.linked(solution))
    variance = shrink + shrink**2 * state.links_through(inverse)
    error = np.sqrt(np.diag(inverse))
    left = cells.total - cells.count * (entry_effect[cells.entry] + judge_effect[cells.judge])
    left = left - cells.rows @ mean
    card = ratios[2] ** 2 * left / (1.0 + cells.count * ratios[2] ** 2)
    return {
        "mean": mean + cells.centre,
        "mean_error": root * error[n_judges:],
        "entry_effect": entry_effect,
        "entry_error": root * np.sqrt(variance),
        "judge_effect": judge_effect,
        "judge_error": root * ratios[1] * error[:n_judges],
        "card_effect": card if ratios[2] else np.zeros(0),
    }


def _cannot_tell(cells: Cells) -> list[str]:
    sentences = []
    if cells.n_judges == 1:
        sentences.append("One judge alone: how strict that judge is cannot be told.")
    if cells.n_entries == 1:
        sentences.append("One entry alone: how much entries differ cannot be told.")
    return sentences


def _groups(entries: Sequence[Hashable], part: Codes) -> tuple[tuple[Hashable, ...], ...]:
    groups: dict[int, list[Hashable]] = {}
    for name, number in zip(entries, part.tolist(), strict=True):
        groups.setdefault(number, []).append(name)
    return tuple(tuple(group) for group in groups.values())


def _unlinked(entries: Sequence[Hashable], part: Codes) -> list[str]:
    groups = _groups(entries, part)
    if len(groups) == 1:
        return []
    named = "; ".join(", ".join(str(name) for name in group) for group in groups)
    return [f"No judge links these groups of entries: {named}."]
