"""Where an entry stands and what comes next, in words for its exhibitor."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from entries.models import Entry
from entries.queries.entries import place_in_line
from entries.rules.offers import deadline_words, ran_out
from entries.rules.places import Status
from entries.rules.withdrawing import reason_against_withdrawing
from showrun.language import gettext as _


@dataclass(frozen=True)
class Standing:
    """Where the entry stands, for its exhibitor."""

    words: str
    sign: str
    next: str
    can_answer: bool = False
    can_withdraw: bool = False


def standing_of(entry: Entry, at: datetime) -> Standing:
    """Say where the entry stands, what comes next and what its exhibitor may do about it."""
    against = reason_against_withdrawing(
        status=Status(entry.status), now=at, judging_starts_at=entry.show.judging_starts_at
    )
    return replace(_said(entry, at), can_withdraw=against is None)


def _said(entry: Entry, at: datetime) -> Standing:
    status = Status(entry.status)
    if status is Status.ENTERED:
        return Standing(
            _("Entered"), "state-ask", _("A place is held for you. The office confirms it next.")
        )
    if status is Status.OFFERED and entry.take_up_by is not None:
        return _offered(
            deadline_words(entry.take_up_by, entry.show.tz), ran_out(entry.take_up_by, at)
        )
    if status is Status.WAITING:
        return Standing(
            _("On the wait list, number {place} in line").format(place=place_in_line(entry)),
            "state-wait",
            _("Places that come free are given in the order of the list."),
        )
    if status is Status.SCRATCHED:
        return Standing(_("Scratched"), "state-bad", entry.status_reason)
    if entry.spot:
        place = _("Number {number}, camp spot {spot}.").format(
            number=entry.number, spot=entry.spot.number
        )
    else:
        place = _("Number {number}; the camp spot is given later.").format(number=entry.number)
    return Standing(_("Confirmed"), "state-good", place)


def _offered(deadline: str, late: bool) -> Standing:
    if late:
        return Standing(
            _("The offer has run out"),
            "state-bad",
            _(
                "The place was yours to take up until {deadline}. It goes to the next in line."
            ).format(deadline=deadline),
        )
    return Standing(
        _("A place is offered to you"),
        "state-ask",
        _(
            "It is held for you until {deadline}. Take it up by then, or it goes to the "
            "next in line."
        ).format(deadline=deadline),
        can_answer=True,
    )
