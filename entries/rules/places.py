"""Who gets a place and who waits: the cap, and the wait list in strict order."""

from __future__ import annotations

from enum import StrEnum

from showrun.language import gettext as _
from showrun.language import gettext_noop as N_


class Status(StrEnum):
    """Where an entry stands."""

    ENTERED = "entered"
    CONFIRMED = "confirmed"
    WAITING = "waiting"
    # Promoted from the wait list; the place is held till the deadline.
    OFFERED = "offered"
    SCRATCHED = "scratched"
    # The wagon judges agree their scale on; in no class, on no list, never counted.
    PRACTICE = "practice"


STATUS_WORDS = {
    Status.ENTERED: N_("entered"),
    Status.CONFIRMED: N_("confirmed"),
    Status.WAITING: N_("waiting"),
    Status.OFFERED: N_("offered"),
    Status.SCRATCHED: N_("scratched"),
    Status.PRACTICE: N_("practice"),
}
HOLDS_A_PLACE = frozenset({Status.ENTERED, Status.CONFIRMED, Status.OFFERED})
_SETTLED = {
    Status.CONFIRMED: N_("This entry is confirmed already."),
    Status.SCRATCHED: N_("This entry was scratched; the exhibitor must enter again."),
}


def status_on_entering(*, places_taken: int, waiting: int, cap: int) -> Status:
    """Give a new entry a place while there is one, else put it at the end of the wait list.

    Nobody overtakes those who wait: with somebody waiting, a free place is theirs.

    Parameters
    ----------
    places_taken, waiting, cap : int
        Entries holding a place, entries waiting, places there are.

    Source
    ------
    Common practice, no source: first entered, first placed; ordered wait list.

    Examples
    --------
    >>> status_on_entering(places_taken=14, waiting=0, cap=15)
    <Status.ENTERED: 'entered'>
    >>> status_on_entering(places_taken=14, waiting=1, cap=15)
    <Status.WAITING: 'waiting'>
    """
    if places_taken < cap and waiting == 0:
        return Status.ENTERED
    return Status.WAITING


def reason_against_confirming(
    *,
    status: Status,
    places_taken: int,
    cap: int,
    ahead_in_line: int,
    offer_ran_out: bool = False,
) -> str | None:
    """Say why an entry cannot be confirmed, or None when it can.

    Parameters
    ----------
    status : Status
        The entry's standing now.
    places_taken, cap : int
        Entries holding a place (this one included if it does), places there are.
    ahead_in_line : int
        Entries waiting longer than this one.
    offer_ran_out : bool
        Whether the deadline of the place offered to this entry has passed.

    Source
    ------
    Common practice, no source: the wait list keeps its order.

    Examples
    --------
    >>> reason_against_confirming(
    ...     status=Status.WAITING, places_taken=15, cap=15, ahead_in_line=0)
    'All 15 places are taken; scratch an entry or raise the cap first.'
    """
    if status in (Status.CONFIRMED, Status.SCRATCHED):
        return _(_SETTLED[status])
    if status is Status.OFFERED and offer_ran_out:
        return _("The time to take up this place has run out; it goes to the next in line.")
    if status in HOLDS_A_PLACE:
        return None
    if places_taken >= cap:
        return _("All {cap} places are taken; scratch an entry or raise the cap first.").format(
            cap=cap
        )
    if ahead_in_line:
        return _("{n} entered before and still wait; the wait list keeps its order.").format(
            n=ahead_in_line
        )
    return None
