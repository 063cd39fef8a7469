"""Labels and scores as every analysis wants them: coded, as long as each other, finite."""

from __future__ import annotations

import contextlib
from collections.abc import Hashable, Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Codes = NDArray[np.intp]
Labels = Sequence[Hashable] | NDArray[Any]


def encode(labels: Labels) -> tuple[tuple[Hashable, ...], Codes]:
    """List the different labels in order and give each label's position in that list.

    Parameters
    ----------
    labels : sequence of hashable, shape (n,)

    Returns
    -------
    names : tuple
        Sorted; in order of first appearance where they cannot be sorted.
    code : ndarray of int, shape (n,)

    Example
    -------
    >>> encode(["Reyes", "Ames", "Reyes"])[0]
    ('Ames', 'Reyes')
    """
    values = labels.tolist() if isinstance(labels, np.ndarray) else list(labels)
    names = list(dict.fromkeys(values))
    with contextlib.suppress(TypeError):  # labels of several kinds have no common order
        names = sorted(names)
    position = {name: index for index, name in enumerate(names)}
    code = np.fromiter(map(position.__getitem__, values), dtype=np.intp, count=len(values))
    return tuple(names), code


def finite_scores(score: ArrayLike, **labels: Labels) -> Floats:
    """Refuse scores that cannot be analysed, in a sentence the office can act on.

    Parameters
    ----------
    score : array_like of float, shape (n,) [points]
    **labels : sequence of hashable, shape (n,)
        Named label lists which must be as long as the scores.

    Returns
    -------
    ndarray of float, shape (n,) [points]

    Raises
    ------
    ValueError
        When there is no score, a length differs, or a score is not a finite number.

    Example
    -------
    >>> finite_scores([7, 8], judge=["Ames"])
    Traceback (most recent call last):
    ...
    ValueError: There are 2 scores but 1 judge labels; each score needs one.
    """
    values = np.array(score, dtype=np.float64)
    if values.ndim != 1:
        raise ValueError("Scores must be one plain list, one number for each score.")
    if values.size == 0:
        raise ValueError("There are no scores to analyse.")
    for name, given in labels.items():
        if len(given) != values.size:
            raise ValueError(
                f"There are {values.size} scores but {len(given)} {name} labels; "
                "each score needs one."
            )
    bad = np.flatnonzero(~np.isfinite(values))
    if bad.size:
        raise ValueError(
            f"Score number {bad[0] + 1} is not a finite number; leave missing scores out."
        )
    return values
