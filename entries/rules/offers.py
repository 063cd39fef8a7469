"""A place that came free is offered down the wait list, each time until a deadline."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from entries.rules.places import Status
from entries.rules.terms_words import said_at
from showrun.language import gettext as _

# How long an offer made by hand stands where the show has set no hours [h].
BY_HAND_HOURS = 48
# A tap made in time may queue behind others; only then is the offer taken back.
GRACE = timedelta(minutes=1)


def places_to_offer(*, cap: int, held: int, waiting: int) -> int:
    """Count the places that can be offered now: free ones, to at most as many as wait.

    Parameters
    ----------
    cap, held, waiting : int
        Places there are, entries holding one (offered ones too), entries waiting.

    Source
    ------
    Common practice, no source: ordered wait list.

    Examples
    --------
    >>> places_to_offer(cap=15, held=13, waiting=5), places_to_offer(cap=15, held=16, waiting=5)
    (2, 0)
    """
    return max(0, min(cap - held, waiting))


def take_up_by(
    *, now: datetime, hours: int, closes_at: datetime | None, starts_at: datetime
) -> datetime | None:
    """Set the deadline of an offer made now, or None when it is too late to offer anything.

    The hours the show gives, cut off where entries close. Once they have closed the wait list
    still moves; then the start of the show is the limit.

    Parameters
    ----------
    now : datetime
        When the offer is made.
    hours : int
        How long the show lets people think [h].
    closes_at : datetime or None
        When entries close, if the show has said so.
    starts_at : datetime
        The first minute of the show's first day, where the show is.

    Source
    ------
    Common practice, no source: an offered place has a deadline before the show.

    Examples
    --------
    >>> from datetime import UTC
    >>> now, start = datetime(2027, 5, 1, 8, tzinfo=UTC), datetime(2027, 5, 14, tzinfo=UTC)
    >>> str(take_up_by(now=now, hours=48, closes_at=None, starts_at=start))
    '2027-05-03 08:00:00+00:00'
    >>> take_up_by(now=start, hours=48, closes_at=None, starts_at=start)
    """
    limit = closes_at if closes_at is not None and now < closes_at <= starts_at else starts_at
    return min(now + timedelta(hours=hours), limit) if now < limit else None


def ran_out(deadline: datetime, now: datetime) -> bool:
    """Say whether it is too late to take the place up; at the deadline itself it is not.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> from datetime import UTC
    >>> noon = datetime(2027, 5, 1, 12, tzinfo=UTC)
    >>> ran_out(noon, noon), ran_out(noon, noon + timedelta(seconds=1))
    (False, True)
    """
    return now > deadline


def lapses(deadline: datetime, now: datetime) -> bool:
    """Say whether an offer nobody took up is taken back: a minute after its deadline.

    Source
    ------
    Common practice, no source: whoever answered in time keeps the place, also when the answer
    had to wait its turn.

    Examples
    --------
    >>> from datetime import UTC
    >>> noon = datetime(2027, 5, 1, 12, tzinfo=UTC)
    >>> lapses(noon, noon + timedelta(seconds=59)), lapses(noon, noon + timedelta(seconds=60))
    (False, True)
    """
    return now >= deadline + GRACE


def reason_against_answering(
    *, status: Status, deadline: datetime | None, now: datetime
) -> str | None:
    """Say why an offered place can be neither taken up nor declined, or None when it can.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> from datetime import UTC
    >>> noon = datetime(2027, 5, 1, 12, tzinfo=UTC)
    >>> reason_against_answering(status=Status.WAITING, deadline=None, now=noon)
    'No place is offered to this entry yet; the wait list keeps its order.'
    >>> reason_against_answering(status=Status.OFFERED, deadline=noon, now=noon)
    """
    if status in (Status.ENTERED, Status.CONFIRMED):
        return _("This entry has its place already.")
    if status is Status.SCRATCHED:
        return _("This entry has left the list, so the place is no longer offered to it.")
    if status is not Status.OFFERED or deadline is None:
        return _("No place is offered to this entry yet; the wait list keeps its order.")
    if ran_out(deadline, now):
        return _("The time to take up this place has run out; it goes to the next in line.")
    return None


def deadline_words(moment: datetime, zone: ZoneInfo) -> str:
    """Say a moment as the show's clock has it, with its zone.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> from datetime import UTC
    >>> deadline_words(datetime(2027, 5, 14, 18, 5, tzinfo=UTC), ZoneInfo("America/Denver"))
    'Friday, May 14, 2027, 12:05 PM MDT'
    """
    there = moment.astimezone(zone)
    return f"{said_at(there)} {there:%Z}"
