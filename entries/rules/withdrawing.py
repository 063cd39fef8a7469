"""Until when an exhibitor may take an entry out of the show alone."""

from __future__ import annotations

from datetime import datetime

from entries.rules.places import Status
from showrun.language import gettext as _

LONGEST_REASON = 160  # letters; what is kept says who withdrew as well


def reason_against_withdrawing(
    *, status: Status, now: datetime, judging_starts_at: datetime
) -> str | None:
    """Say why the exhibitor cannot withdraw the entry, or None while that is possible.

    Parameters
    ----------
    status : Status
        Where the entry stands.
    now, judging_starts_at : datetime
        The moment asked about, and when judges set off.

    Source
    ------
    Common practice, no source: with judges under way, the office must hear of it first.

    Examples
    --------
    >>> from datetime import UTC
    >>> judging = datetime(2027, 5, 15, 14, tzinfo=UTC)
    >>> reason_against_withdrawing(
    ...     status=Status.CONFIRMED, now=judging, judging_starts_at=judging)
    'Judging has started. Tell the show office; it takes the wagon out.'
    """
    if status is Status.SCRATCHED:
        return _("This entry has left the show already.")
    if now >= judging_starts_at:
        return _("Judging has started. Tell the show office; it takes the wagon out.")
    return None


def withdrawn_words(reason: str) -> str:
    """Write what stands as the reason on the entry.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> withdrawn_words(" A mule is lame. "), withdrawn_words("")
    ('Withdrawn by the exhibitor: A mule is lame.', 'Withdrawn by the exhibitor.')
    """
    given = " ".join(reason.split())
    return f"Withdrawn by the exhibitor: {given}" if given else "Withdrawn by the exhibitor."
