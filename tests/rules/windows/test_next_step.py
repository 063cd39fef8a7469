"""The one thing the office does next, in order of what presses."""

from __future__ import annotations

from dataclasses import replace

from judging.rules.windows.next_step import Standing, next_step

WELL = Standing("J1", "wagon 2", 1, 2, due=True, done=False)
NOW = {"waits_for_decision": False, "chance": 0.9, "minutes_to_opening": 0}


def say(*judges, **facts):
    return next_step(judges, **{**NOW, **facts})


def test_a_decision_that_waits_comes_first():
    late = replace(WELL, behind_minutes=40)
    assert "wait below" in say(late, waits_for_decision=True)


def test_who_is_furthest_behind_is_named_from_ten_minutes():
    other = replace(WELL, name="J2", behind_minutes=12)
    assert say(WELL, other, replace(WELL, name="J3", behind_minutes=25)).startswith("J3 is 25")
    assert say(WELL, replace(other, behind_minutes=10)).startswith("J2 is 10")
    assert "Nothing to do" in say(WELL, replace(other, behind_minutes=9))


def test_a_judge_who_is_done_is_not_chased():
    done = replace(WELL, name="J2", behind_minutes=30, quiet_minutes=90, done=True)
    assert (
        say(WELL, done) == "Nothing to do: every judge is within 2 minutes of the announced times."
    )
    assert "run the checks" in say(done)


def test_a_quiet_phone_matters_once_a_visit_is_due():
    quiet = replace(WELL, name="J4", quiet_minutes=21)
    assert "J4" in say(WELL, quiet)
    assert "Nothing to do" in say(WELL, replace(quiet, due=False))
    assert "Nothing to do" in say(WELL, replace(quiet, quiet_minutes=20))


def test_a_window_that_probably_does_not_hold_is_said():
    assert "not hold" in say(WELL, chance=0.49)
    assert "not hold" not in say(WELL, chance=0.5)
    assert "not hold" not in say(WELL, chance=None)


def test_before_the_opening_phones_that_were_never_heard_are_named():
    mute = replace(WELL, name="J5", quiet_minutes=None)
    assert "Pair a phone for J5" in say(WELL, mute, minutes_to_opening=12)
    assert "opens in 12 minutes" in say(WELL, minutes_to_opening=12)
    assert "opens in 1 minute." in say(WELL, minutes_to_opening=1)
    assert "opens in 119 minutes." in say(WELL, minutes_to_opening=119)
    assert "opens in 3 hours." in say(WELL, minutes_to_opening=239)
    assert "opens in 2 days." in say(WELL, minutes_to_opening=3 * 24 * 60 - 1)
