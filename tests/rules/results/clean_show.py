"""Shows without any error, for simulations: wagons, judges, likings and noise, whole marks."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Codes = NDArray[np.intp]

PLAIN, REALISTIC, UNEVEN = "plain", "realistic", "uneven"
STEADINESS = {
    UNEVEN: (0.5, 0.8, 1.2, 0.8, 0.6, 1.0),
    "very uneven": (0.3, 0.8, 1.6, 0.8, 0.6, 1.0),
}


def places(shape: tuple[int, int, int]) -> tuple[Codes, Codes, Codes]:
    """Entry, judge and criterion of every mark of a complete panel."""
    entry, judge, criterion = (axis.ravel() for axis in np.indices(shape))
    return entry, judge, criterion


def clean_show(
    rng: np.random.Generator, shape: tuple[int, int, int], kind: str, severity: float = 0.5
) -> Floats:
    """Whole marks from 0 to 10 by entry, judge and criterion.

    Wagons differ by 1.2 points, judges by 0.5, marks by 0.8. All kinds but the plain one also have
    wagons good at some rows (0.6), judges keen on some rows (0.3), and likings of a judge for a
    wagon (0.3); the uneven ones have judges of different steadiness.
    """
    entries, judges, criteria = shape
    score = rng.normal(0, 1.2, (entries, 1, 1)) + rng.normal(0, severity, (1, judges, 1))
    score = score + rng.normal(6, 0.5, (1, 1, criteria))
    if kind != PLAIN:
        score = score + rng.normal(0, 0.6, (entries, 1, criteria))
        score = score + rng.normal(0, 0.3, (1, judges, criteria))
        score = score + rng.normal(0, 0.3, (entries, judges, 1))
    noise = np.array(STEADINESS.get(kind, (0.8,) * judges)[:judges])
    marks: Floats = np.clip(np.rint(score + rng.normal(size=shape) * noise[:, None]), 0, 10)
    return marks
