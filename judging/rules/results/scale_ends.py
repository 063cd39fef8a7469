"""What a card's mean would be if the scale did not end: marks at an end hide how far they meant."""

from __future__ import annotations

import math

import numpy as np
import scipy
from numpy.typing import ArrayLike

from judging.rules.results.labels import Floats

# The common scale of marks.
LOW, HIGH = 0.0, 10.0
# Taken back as far as this share of a card's marks still moves with the judge's opinion.
LEAST_MOVING = 0.5
_GRID = 2001


def beyond_the_ends(mean: ArrayLike, spread: float) -> Floats:
    """Take back what the ends of the scale cut off the mean of a card's marks.

    Parameters
    ----------
    mean : array_like of float, shape (n_cards,) [points]
        Means of cards on the common scale of 0 to 10.
    spread : float [points]
        Standard deviation of the marks on a card that lies off the ends; 0 changes nothing.

    Returns
    -------
    ndarray of float, shape (n_cards,) [points]
        Rising with `mean`, and nearly the same in the middle of the scale.

    Raises
    ------
    ValueError
        When the spread is below 0 or not finite.

    Notes
    -----
    Marks meant as normal about m and written at an end where they lie beyond it have the mean
    g(m) = m (F(b) - F(a)) - s (f(b) - f(a)) + 10 (1 - F(b)), with a = -m/s, b = (10 - m)/s. The
    function turns g round. Where less than half of a card's marks would still move with m it goes
    straight on, so that a card of nothing but tens stays finite.

    Source
    ------
    Mean of a doubly censored normal: Tobin, J., Estimation of relationships for limited dependent
    variables, Econometrica 26, 24-36, 1958 (from memory). To turn it round card by card, and to
    stop at half, are our own choice; simulations in the tests are their evidence.

    Examples
    --------
    >>> beyond_the_ends([5.0, 9.0, 9.5, 10.0], 1.2).round(2).tolist()
    [5.0, 9.18, 9.96, 10.48]
    >>> beyond_the_ends([2.5, 10.0], 0.0).tolist()
    [2.5, 10.0]
    """
    if not (math.isfinite(spread) and spread >= 0.0):
        raise ValueError(f"{spread} is no spread of marks.")
    means = np.asarray(mean, dtype=np.float64)
    if spread == 0.0:
        return means.copy()
    meant = np.linspace(LOW - spread, HIGH + spread, _GRID)
    low, high = (LOW - meant) / spread, (HIGH - meant) / spread
    moving = scipy.special.ndtr(high) - scipy.special.ndtr(low)
    seen = (
        meant * moving
        - spread * (_density(high) - _density(low))
        + HIGH * (1 - scipy.special.ndtr(high))
    )
    told = moving >= LEAST_MOVING
    if not told.any():
        return means.copy()
    meant, seen = meant[told], seen[told]
    within = np.interp(means, seen, meant)
    past: Floats = np.maximum(means - seen[-1], 0.0) + np.minimum(means - seen[0], 0.0)
    stretched: Floats = within + past
    return stretched


def _density(z: Floats) -> Floats:
    density: Floats = np.exp(-(z**2) / 2.0) / math.sqrt(2.0 * math.pi)
    return density
