"""The practice wagon for tests: set up by the office, marked by judges on their phones."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from entries.models import Entry
from judging.actions.practice import set_up_practice
from judging.models import Device, Judge
from showrun.shows.models import Show
from tests.judged_show import AT, office_of, pair, rows_of, send
from tests.round_events import hand_in, mark
from tests.small_card import RIGS

# Words that stand nowhere else.
NAME = "Grindstone Practice"
PLANTED = "Off hame strap one hole short\nQueen bolt without its nut"


def set_up(show: Show, *, planted: str = PLANTED, **more: Any) -> Entry:
    """Set the wagon up, with a drop tongue and a team unless said otherwise."""
    given = {"wagon_name": NAME, "rig": RIGS[0], "planted": planted, **more}
    return set_up_practice(show=show, by=given.pop("by", None) or office_of(show), at=AT, **given)


def phone_of(judge: Judge) -> Device:
    """Return the judge's phone, paired if there is none."""
    return judge.devices.filter(revoked_at__isnull=True).first() or pair(judge)[0]


def give(judge: Judge, wagon: Entry, marks: Mapping[str, int] | int, *, done: bool = True) -> None:
    """Mark these rows of the wagon, or all of them alike, and hand the card in."""
    every = {row.code: marks for row in rows_of(judge, wagon)} if isinstance(marks, int) else marks
    events = [mark(wagon, code, value) for code, value in every.items()]
    sent = send(phone_of(judge), [*events, *([hand_in(wagon)] if done else [])])
    assert {outcome.status for outcome in sent} == {"applied"}, sent
