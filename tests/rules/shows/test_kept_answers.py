"""What becomes of a request whose key came before."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from showrun.shows.rules.kept_answers import GIVEN_UP_AFTER, KEPT_FOR, Earlier, Fate, fate_of

NOON = datetime(2027, 5, 15, 12, tzinfo=UTC)
MOMENT = timedelta(microseconds=1)


@pytest.mark.parametrize(
    ("answered", "body", "age", "fate"),
    [
        (True, "a", timedelta(), Fate.REPLAY),
        (True, "a", KEPT_FOR - MOMENT, Fate.REPLAY),
        (True, "a", KEPT_FOR, Fate.TAKE_OVER),
        (True, "b", timedelta(), Fate.OTHER_BODY),
        (True, "b", KEPT_FOR, Fate.TAKE_OVER),
        (False, "a", timedelta(), Fate.IN_PROGRESS),
        (False, "a", GIVEN_UP_AFTER - MOMENT, Fate.IN_PROGRESS),
        (False, "a", GIVEN_UP_AFTER, Fate.TAKE_OVER),
        (False, "b", GIVEN_UP_AFTER, Fate.OTHER_BODY),
    ],
)
def test_a_key_that_came_before(answered: bool, body: str, age: timedelta, fate: Fate) -> None:
    earlier = Earlier(body_hash="a", claimed_at=NOON, answered=answered)
    assert fate_of(earlier, body_hash=body, at=NOON + age) is fate
