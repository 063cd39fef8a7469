"""Which touches come too late to change a card by themselves; the office decides about them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from judging.rules.round.events import EventRefused, Kind

AFTER_SIGNATURE = "after-signature"
AFTER_WINDOW = "after-window"
DEVICE_SHUT_OUT = "device-shut-out"
# What the office may take in by the phone, all touches held for one of these together.
LATE = (DEVICE_SHUT_OUT, AFTER_WINDOW, AFTER_SIGNATURE)

# What changes a card. A concern is never late, and that a card was opened is only told.
CHANGES_A_CARD = frozenset({Kind.MARK, Kind.CLEAR, Kind.REMARK, Kind.HAND_IN, Kind.RIG})


@dataclass(frozen=True)
class Limits:
    """Up to when the touches on one card count.

    Parameters
    ----------
    signed_at
        When the first hand was put under a result that counts the card; None: none was.
    window_ends_at
        When the judging window ends, or the last visit announced where that is later; None
        where nothing was announced, or where the moment of the touch says nothing, as on paper.
    grace_minutes
        How long after the window a touch still counts [min].
    """

    signed_at: datetime | None = None
    window_ends_at: datetime | None = None
    grace_minutes: int = 60


def demand_in_time(
    kind: Kind, limits: Limits, *, happened_at: datetime, received_at: datetime
) -> None:
    """Let a touch pass that is in time, or that cannot be late.

    Parameters
    ----------
    kind : Kind
        What the judge did.
    limits : Limits
        Up to when touches on this card count.
    happened_at : datetime
        When the touch was made: the phone's claim, set right by its clock.
    received_at : datetime
        When it is weighed, by the server's clock.

    Raises
    ------
    EventRefused
        ``after-signature`` when it arrives after a result that counts the card was signed,
        ``after-window`` when it was made later than the grace after the window.

    Notes
    -----
    A signature is about what arrived, whenever it was made; a window is about when it was made,
    however late it arrives: a phone that was without signal for hours is not late.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> noon = datetime(2027, 5, 15, 12, 0)
    >>> limits = Limits(window_ends_at=noon, grace_minutes=60)
    >>> def told(kind, hour, limits=limits):
    ...     at = datetime(2027, 5, 15, hour, 1)
    ...     try:
    ...         demand_in_time(kind, limits, happened_at=at, received_at=at)
    ...     except EventRefused as refused:
    ...         return refused.code
    >>> told(Kind.MARK, 12), told(Kind.MARK, 13), told(Kind.CONCERN, 13)
    (None, 'after-window', None)
    >>> told(Kind.HAND_IN, 12, Limits(signed_at=noon))
    'after-signature'
    """
    if kind not in CHANGES_A_CARD:
        return
    if limits.signed_at is not None and received_at >= limits.signed_at:
        raise EventRefused(
            AFTER_SIGNATURE,
            "It arrived after a result that counts this card was signed; the office decides.",
        )
    if limits.window_ends_at is None:
        return
    if happened_at > limits.window_ends_at + timedelta(minutes=limits.grace_minutes):
        raise EventRefused(
            AFTER_WINDOW,
            f"It was made more than {limits.grace_minutes} minutes after the judging window; "
            "the office decides.",
        )
