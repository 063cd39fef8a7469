"""When a touch was made, from what the phone's clock claims."""

from __future__ import annotations

from datetime import UTC, datetime


def read_moment(text: str) -> datetime | None:
    """Return a moment written as RFC 3339, or None where it cannot be read.

    Examples
    --------
    >>> read_moment("2027-05-15T09:00:00-06:00")
    datetime.datetime(2027, 5, 15, 15, 0, tzinfo=datetime.timezone.utc)
    >>> read_moment("2027-05-15T09:00:00"), read_moment("nine")
    (None, None)
    """
    try:
        moment = datetime.fromisoformat(text)
        return moment.astimezone(UTC) if moment.tzinfo else None
    except (ValueError, OverflowError):
        return None


def happened_at(claimed: str, *, sent_at: datetime | None, received_at: datetime) -> datetime:
    """Say when a touch was made: the phone's claim, set right by how wrong its clock is.

    Parameters
    ----------
    claimed
        What the phone's clock said at the touch, RFC 3339.
    sent_at
        What the same clock said when the batch was sent, None where it was not told.
    received_at
        When the server had the batch, by the server's clock.

    Returns
    -------
    datetime
        Never after `received_at`, which also stands in for a claim that cannot be read.

    Notes
    -----
    The clock of a phone is off by `received_at` less `sent_at`; the seconds on the way count as
    part of that. A clock that was set between touch and sending cannot be found out.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> half_an_hour_fast = datetime(2027, 5, 15, 15, 40, tzinfo=UTC)
    >>> received = datetime(2027, 5, 15, 15, 10, tzinfo=UTC)
    >>> happened_at(
    ...     "2027-05-15T15:35:00Z", sent_at=half_an_hour_fast, received_at=received
    ... ).strftime("%H:%M")
    '15:05'
    """
    moment = read_moment(claimed)
    if moment is None:
        return received_at
    try:
        if sent_at is not None:
            moment += received_at - sent_at
    except OverflowError:
        return received_at
    return min(moment, received_at)
