"""What each way to make totals can give, and how its figures are written."""

from __future__ import annotations

from decimal import Decimal

from judging.rules.round.card_hash import plain_number
from showrun.language import gettext as _

AVERAGING = ("mean", "trimmed")
# Methods which ask how high or low a judge scores.
ADJUSTING = ("judge_adjusted", "crossed")
PLACES = "placings"


def can_give(method: str, worth: Decimal, judges: int, n_entries: int) -> Decimal:
    """Say what a section can come to by a method.

    Parameters
    ----------
    method : str
        One of ``METHODS``.
    worth : Decimal [points]
        What one judge can give.
    judges : int
        Judges who see it.
    n_entries : int
        Entries placed.

    Returns
    -------
    Decimal [points, or comparisons]
        A sum over the judges; a mean is worth what one judge can give; by places, one comparison
        with every other entry for each judge.

    Source
    ------
    Arithmetic.

    Examples
    --------
    >>> for method in ("plain", "mean", "placings"):
    ...     print(can_give(method, Decimal(20), 3, 5))
    60
    20
    12
    """
    if method in AVERAGING:
        return worth
    if method == PLACES:
        return Decimal(judges * (n_entries - 1))
    return worth * judges


def figure(method: str, value: Decimal) -> str:
    """Write a figure: points with two decimals, comparisons won without needless ones.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> figure("mean", Decimal("18.5")), figure("placings", Decimal("9.50"))
    ('18.50', '9.5')
    """
    return plain_number(value) if method == PLACES else f"{value:.2f}"


def out_of(method: str, possible: Decimal) -> str:
    """Say what a total is out of, and in what.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> out_of("plain", Decimal("300.00")), out_of("placings", Decimal(1))
    ('of 300 points', 'of 1 comparison won')
    """
    number = plain_number(possible)
    if method != PLACES:
        return _("of {number} points").format(number=number)
    one, many = _("of {number} comparison won"), _("of {number} comparisons won")
    return (one if possible == 1 else many).format(number=number)
