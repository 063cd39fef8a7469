"""The turn-in window to the second, the grace, and the late rule in words."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from judging.rules.food.turn_in import LateRule, Standing, TurnInRule, judge_turn_in

NOON = datetime(2030, 6, 1, 12, 0)
STRICT = TurnInRule()
KIND = TurnInRule(window_minutes=5, grace_minutes=2, late=LateRule.NOTED)


@pytest.mark.parametrize(
    ("rule", "seconds", "standing", "taken", "late_s", "sentence"),
    [
        (STRICT, -301, Standing.EARLY, False, 0, "The window opens in 1 s. Please wait."),
        (STRICT, -300, Standing.IN_TIME, True, 0, "In time."),
        (STRICT, 0, Standing.IN_TIME, True, 0, "In time."),
        (STRICT, 300, Standing.IN_TIME, True, 0, "In time."),
        (STRICT, 301, Standing.REFUSED, False, 1,
         "1 s late. Not taken: a late dish is out of this round."),
        (STRICT, 420, Standing.REFUSED, False, 120,
         "2 min late. Not taken: a late dish is out of this round."),
        (KIND, 301, Standing.IN_GRACE, True, 1, "1 s late. Taken: within the grace."),
        (KIND, 420, Standing.IN_GRACE, True, 120, "2 min late. Taken: within the grace."),
        (KIND, 421, Standing.LATE, True, 121,
         "2 min 1 s late. Taken and noted; marked as declared for late."),
        (KIND, 3900, Standing.LATE, True, 3600,
         "60 min late. Taken and noted; marked as declared for late."),
    ],
)  # fmt: skip
def test_each_second_has_its_sentence(rule, seconds, standing, taken, late_s, sentence):
    said = judge_turn_in(NOON, NOON + timedelta(seconds=seconds), rule)
    assert (said.standing, said.taken, said.late_s, said.sentence) == (
        standing, taken, late_s, sentence,
    )  # fmt: skip


def test_part_of_a_second_is_late_and_counts_as_one():
    said = judge_turn_in(NOON, NOON + timedelta(minutes=5, microseconds=1), STRICT)
    assert (said.standing, said.late_s) == (Standing.REFUSED, 1)


def test_a_window_of_nothing_takes_the_posted_second_only():
    rule = TurnInRule(window_minutes=0)
    assert judge_turn_in(NOON, NOON, rule).taken
    assert not judge_turn_in(NOON, NOON + timedelta(seconds=1), rule).taken


@pytest.mark.parametrize("given", [{"window_minutes": -1}, {"grace_minutes": -1}])
def test_less_than_no_time_is_refused(given):
    with pytest.raises(ValueError, match="nought minutes"):
        TurnInRule(**given)
