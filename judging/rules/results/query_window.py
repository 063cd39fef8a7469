"""Until when an exhibitor may put a query about a released result, and how often."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from showrun.language import gettext as _

# A third query on one class is rare; more would hold the office up on the day of the awards.
MOST_QUERIES = 3  # an entry and class
LONGEST_TEXT = 600  # letters, of a query and of its answer


@dataclass(frozen=True)
class QueryWindow:
    """When queries about one released version are taken.

    Attributes
    ----------
    opens_at, closes_at : datetime
        The release, and so many minutes later; both with a zone. At `closes_at` it is closed.
    """

    opens_at: datetime
    closes_at: datetime

    def is_open(self, at: datetime) -> bool:
        """Say whether a query may be put at this moment."""
        return self.opens_at <= at < self.closes_at


def query_window(released_at: datetime, minutes: int) -> QueryWindow:
    """Return when queries about a released version are taken.

    Parameters
    ----------
    released_at : datetime
        Release of this version; a correction opens the window anew with its own release.
    minutes : int [min]
        What the class declared; 0: it takes no queries.

    Returns
    -------
    QueryWindow

    Raises
    ------
    ValueError
        When the minutes are below 0.

    Notes
    -----
    Real minutes: a clock change within the window neither lengthens nor shortens it.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> window = query_window(datetime(2027, 5, 15, 23, 30, tzinfo=UTC), 45)
    >>> window.closes_at.isoformat()
    '2027-05-16T00:15:00+00:00'
    """
    if minutes < 0:
        raise ValueError("A query window lasts no less than 0 minutes.")
    opens = released_at.astimezone(UTC)
    return QueryWindow(opens, opens + timedelta(minutes=minutes))


def against_query(window: QueryWindow, *, put_before: int, at: datetime) -> str:
    """Say why no query can be put; empty when it can.

    Parameters
    ----------
    window : QueryWindow
    put_before : int
        Queries this entry has put in this class, over all versions; withdrawn ones count too.
    at : datetime

    Returns
    -------
    str
        A sentence, or nothing.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> released = datetime(2027, 5, 15, 18, tzinfo=UTC)
    >>> window = query_window(released, 60)
    >>> against_query(window, put_before=2, at=released)
    ''
    >>> against_query(window, put_before=3, at=released)
    'This entry has put 3 queries in this class; that is the most. Please talk to the office.'
    >>> against_query(window, put_before=0, at=released + timedelta(minutes=60))
    'The time for queries about this result is over.'
    """
    if window.closes_at <= window.opens_at:
        return _("This class takes no queries.")
    if at < window.opens_at:
        return _("Queries are taken once the result is released.")
    if not window.is_open(at):
        return _("The time for queries about this result is over.")
    if put_before >= MOST_QUERIES:
        return _(
            "This entry has put {n} queries in this class; that is the most. Please "
            "talk to the office."
        ).format(n=put_before)
    return ""
