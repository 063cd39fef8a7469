"""Which marks judges gave the same entry, and how far two marks are apart: for `agreement.py`."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from judging.rules.results.labels import Floats

Level = Literal["nominal", "ordinal", "interval", "ratio"]


def coincidences(x: Floats, paired: NDArray[np.bool_], values: Floats) -> Floats:
    """How often two judges gave an entry this and that mark, shape (n_values, n_values)."""
    rows, columns = np.nonzero(paired)
    counts = np.zeros((x.shape[0], values.size))
    np.add.at(counts, (rows, np.searchsorted(values, x[rows, columns])), 1.0)
    counts = counts[counts.sum(axis=1) > 0]
    shared = counts / (counts.sum(axis=1, keepdims=True) - 1.0)
    return np.asarray(shared.T @ counts - np.diag(shared.sum(axis=0)))


def squared_differences(values: Floats, times: Floats, level: Level) -> Floats:
    """How far two marks are apart, squared, shape (n_values, n_values)."""
    if level == "nominal":
        return 1.0 - np.eye(values.size)
    if level == "ordinal":
        middle = np.cumsum(times) - times / 2.0
        return np.asarray(np.subtract.outer(middle, middle) ** 2)
    apart = np.subtract.outer(values, values)
    if level == "ratio":
        whole = np.add.outer(values, values)
        apart = np.divide(apart, whole, out=np.zeros_like(apart), where=whole != 0)
    return np.asarray(apart**2)
