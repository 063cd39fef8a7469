"""When crew lists freeze, who changes them then, and whose names are written out."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from entries.rules.crew_freeze import frozen, initials, reason_against_changing, shown_name
from entries.rules.places import Status

JUDGING = datetime(2127, 5, 15, 14, 0, tzinfo=UTC)
SECOND = timedelta(seconds=1)


@pytest.mark.parametrize("own", [None, JUDGING - timedelta(days=1), JUDGING + timedelta(hours=1)])
def test_the_shows_own_hour_goes_before_the_start_of_judging(own: datetime | None) -> None:
    at = own or JUDGING
    assert frozen(now=at, frozen_at=own, judging_starts_at=JUDGING)
    assert not frozen(now=at - SECOND, frozen_at=own, judging_starts_at=JUDGING)


@pytest.mark.parametrize(
    ("status", "is_frozen", "office", "reason", "words"),
    [
        (Status.CONFIRMED, False, False, "", None),
        (Status.WAITING, False, True, "", None),
        (Status.CONFIRMED, True, False, "ill", "Tell the show office"),
        (Status.CONFIRMED, True, True, " ", "say why"),
        (Status.CONFIRMED, True, True, "ill", None),
        (Status.SCRATCHED, False, True, "ill", "left the show"),
    ],
)
def test_who_changes_a_crew(
    status: Status, is_frozen: bool, office: bool, reason: str, words: str | None
) -> None:
    said = reason_against_changing(status=status, is_frozen=is_frozen, office=office, reason=reason)
    assert said is None if words is None else words in str(said)


@pytest.mark.parametrize(
    ("name", "short"),
    [("Ann Oak", "A. O."), ("  Ann   van Oak ", "A. v. O."), ("Zoë", "Z."), ("", "")],
)
def test_initials(name: str, short: str) -> None:
    assert initials(name) == short


def test_only_those_under_age_are_shortened_and_only_for_others() -> None:
    assert shown_name("Ann Oak", under_age=True, in_full=False) == "A. O."
    assert shown_name("Ann Oak", under_age=True, in_full=True) == "Ann Oak"
    assert shown_name("Ann Oak", under_age=False, in_full=False) == "Ann Oak"
