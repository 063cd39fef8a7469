"""Until when an exhibitor leaves alone, and what is kept as the reason."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from entries.rules.places import Status
from entries.rules.withdrawing import LONGEST_REASON, reason_against_withdrawing, withdrawn_words

JUDGING = datetime(2127, 5, 15, 14, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("status", "seconds", "words"),
    [
        (Status.CONFIRMED, -1, None),
        (Status.WAITING, -1, None),
        (Status.OFFERED, -1, None),
        (Status.ENTERED, 0, "Judging has started"),
        (Status.SCRATCHED, -1, "left the show already"),
    ],
)
def test_until_judging_starts(status: Status, seconds: int, words: str | None) -> None:
    now = JUDGING + timedelta(seconds=seconds)
    reason = reason_against_withdrawing(status=status, now=now, judging_starts_at=JUDGING)
    assert reason is None if words is None else words in str(reason)


def test_the_reason_fits_the_line_that_keeps_it() -> None:
    assert len(withdrawn_words("x" * LONGEST_REASON)) <= 200
    assert withdrawn_words("  lame\n mule ") == "Withdrawn by the exhibitor: lame mule"
    assert withdrawn_words(" \n") == "Withdrawn by the exhibitor."
