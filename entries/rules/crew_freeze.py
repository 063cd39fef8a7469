"""Until when the crew of an entry may change, by whom, and whose names are written out."""

from __future__ import annotations

from datetime import datetime

from entries.rules.places import Status
from showrun.language import gettext as _


def frozen(*, now: datetime, frozen_at: datetime | None, judging_starts_at: datetime) -> bool:
    """Say whether crew lists are frozen: from the show's own hour, else from judging on.

    Parameters
    ----------
    now : datetime
        The moment asked about.
    frozen_at : datetime or None
        The hour the show has set.
    judging_starts_at : datetime
        When judges set off.

    Source
    ------
    National Championship Chuck Wagon Cook-off, Policies, Rules and Awards, 2019: the crew list is
    frozen when the contest starts.

    Examples
    --------
    >>> from datetime import UTC
    >>> judging = datetime(2027, 5, 15, 14, tzinfo=UTC)
    >>> frozen(now=judging, frozen_at=None, judging_starts_at=judging)
    True
    """
    return now >= (frozen_at or judging_starts_at)


def reason_against_changing(
    *, status: Status, is_frozen: bool, office: bool, reason: str
) -> str | None:
    """Say why a crew cannot be changed, or None when it can.

    Parameters
    ----------
    status : Status
        Where the entry stands.
    is_frozen, office : bool
        Whether crew lists are frozen; whether somebody of the office changes it.
    reason : str
        Why, as given.

    Source
    ------
    National Championship Chuck Wagon Cook-off, Policies, Rules and Awards, 2019: changes after the
    freeze are reported to officials first.

    Examples
    --------
    >>> reason_against_changing(
    ...     status=Status.CONFIRMED, is_frozen=True, office=False, reason="ill")
    'The crew list is frozen. Tell the show office, which can still change it.'
    >>> reason_against_changing(
    ...     status=Status.CONFIRMED, is_frozen=True, office=True, reason="ill")
    """
    if status is Status.SCRATCHED:
        return _("This entry has left the show; its crew stays as it was.")
    if not is_frozen:
        return None
    if not office:
        return _("The crew list is frozen. Tell the show office, which can still change it.")
    if not reason.strip():
        return _("The crew list is frozen; say why it changes after all.")
    return None


def initials(name: str) -> str:
    """Shorten a name to its initials, for somebody under age.

    Source
    ------
    Common practice, no source: nobody under age is named outside the office.

    Examples
    --------
    >>> initials("Mirela  van Stroud"), initials("Ann-Lee Oak")
    ('M. v. S.', 'A. O.')
    """
    return " ".join(f"{part[0]}." for part in name.split())


def shown_name(name: str, *, under_age: bool, in_full: bool) -> str:
    """Write a name of the crew for whoever reads it.

    Parameters
    ----------
    name : str
        As the crew list has it.
    under_age : bool
        Whether that person is.
    in_full : bool
        Whether the reader is the exhibitor or of the office.

    Source
    ------
    Common practice, no source: nobody under age is named outside the office.

    Examples
    --------
    >>> shown_name("Ann Oak", under_age=True, in_full=False)
    'A. O.'
    >>> shown_name("Ann Oak", under_age=True, in_full=True)
    'Ann Oak'
    """
    return initials(name) if under_age and not in_full else name
