"""Entry numbers: the lowest that was never given, so that no number is used twice."""

from __future__ import annotations

from collections.abc import Iterable


def next_number(given: Iterable[int]) -> int:
    """Return the number after the highest ever given; a scratched number stays dead.

    Source
    ------
    Common practice, no source: a number once called out or printed is not given again.

    Examples
    --------
    >>> next_number([1, 2, 5]), next_number([])
    (6, 1)
    """
    return max(given, default=0) + 1
