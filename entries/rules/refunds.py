"""How much of a fee comes back to whoever leaves the show, by the day of leaving."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from showrun.language import gettext as _


@dataclass(frozen=True)
class Step:
    """One line of a show's date rule.

    Parameters
    ----------
    until : date
        The last day on which the share holds.
    share_percent : int [%]
        0 to 100 of the fee.

    Raises
    ------
    ValueError
        For a share outside that.

    Source
    ------
    Common practice, no source.
    """

    until: date
    share_percent: int

    def __post_init__(self) -> None:
        if not 0 <= self.share_percent <= 100:
            raise ValueError(f"A share of {self.share_percent} percent is none.")


def read_steps(kept: Iterable[Mapping[str, Any]]) -> tuple[Step, ...]:
    """Read a show's date rule from its row.

    Parameters
    ----------
    kept : iterable of mapping
        Each with `until` (ISO date) and `share_percent`.

    Returns
    -------
    tuple of Step
        In the order of their dates.

    Raises
    ------
    ValueError
        For something that is no date or no share, or two shares for one day.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> read_steps([{"until": "2127-04-14", "share_percent": 50}])
    (Step(until=datetime.date(2127, 4, 14), share_percent=50),)
    """
    steps = sorted(
        (
            Step(date.fromisoformat(str(one["until"])), int(str(one["share_percent"])))
            for one in kept
        ),
        key=lambda step: step.until,
    )
    if len({step.until for step in steps}) < len(steps):
        raise ValueError(_("Two shares hold until the same day."))
    return tuple(steps)


def share_on(day: date, steps: Iterable[Step]) -> int:
    """Return the share of the fee that comes back for leaving on a day.

    Parameters
    ----------
    day : date
        By the show's own clock.
    steps : iterable of Step

    Returns
    -------
    int [%]
        Of the earliest step that still holds; 0 after the last one, and where there is none.

    Source
    ------
    Common practice, no source: less the later, and nothing once the last day is over.

    Examples
    --------
    >>> rule = [Step(date(2127, 4, 14), 100), Step(date(2127, 4, 30), 50)]
    >>> [share_on(date(2127, 4, day), rule) for day in (14, 15, 30)]
    [100, 50, 50]
    >>> share_on(date(2127, 5, 1), rule)
    0
    """
    holding = [step for step in steps if day <= step.until]
    return min(holding, key=lambda step: step.until).share_percent if holding else 0


def refund(fee_cents: int, share_percent: int) -> int:
    """Work out the part of a fee that comes back; a deposit is returned apart from it, or kept.

    Parameters
    ----------
    fee_cents : int [cents]
        What was charged, 0 or more.
    share_percent : int [%]
        0 to 100.

    Returns
    -------
    int [cents]
        Rounded to the cent; half a cent is the exhibitor's.

    Raises
    ------
    ValueError
        For a fee below 0 or a share outside its range.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> refund(15000, 50), refund(9999, 50), refund(101, 33)
    (7500, 5000, 33)
    """
    if fee_cents < 0 or not 0 <= share_percent <= 100:
        raise ValueError(f"{share_percent} percent of {fee_cents} cents is no refund.")
    return (fee_cents * share_percent + 50) // 100
