"""Points of different cards and years made comparable: each as a share of what it could come to."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

from showrun.language import gettext as _


def percent(points: Decimal, possible: Decimal) -> int | None:
    """Write points as whole percent of what could be earned; None where nothing could.

    Parameters
    ----------
    points, possible : Decimal [points]

    Returns
    -------
    int or None [%]
        Half a percent goes up.

    Notes
    -----
    A card of another year has other rows, so shares are set beside the middle of the same class,
    never beside each other alone.

    Source
    ------
    Arithmetic.

    Examples
    --------
    >>> percent(Decimal("61.5"), Decimal(75)), percent(Decimal(0), Decimal(0))
    (82, None)
    """
    if not possible:
        return None
    return int((points * 100 / possible).quantize(Decimal(1), rounding=ROUND_HALF_UP))


def beside(own: int, middle: int) -> str:
    """Say how far a share is from the middle of its class.

    Parameters
    ----------
    own, middle : int [%]

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> beside(82, 75), beside(70, 75), beside(75, 75)
    ('7 above the middle', '5 below the middle', 'level with the middle')
    """
    if own == middle:
        return _("level with the middle")
    words = _("{n} above the middle") if own > middle else _("{n} below the middle")
    return words.format(n=abs(own - middle))
