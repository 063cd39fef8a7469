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
    assert say(late, waits_for_decision=True) == (
        "Changed times wait below: look at them, then announce or leave them."
    )


def test_who_is_furthest_behind_is_named_from_ten_minutes():
    other = replace(WELL, name="J2", behind_minutes=12)
    assert say(WELL, other, replace(WELL, name="J3", behind_minutes=25)).startswith("J3 is 25")
    assert say(WELL, replace(other, behind_minutes=10)).startswith("J2 is 10")
    assert say(WELL, replace(other, behind_minutes=9)) == (
        "Nothing to do: every judge is within 10 minutes of the announced times."
    )
    assert say(WELL, replace(other, behind_minutes=-11, where="wagon 9")) == (
        "Nothing to do: every judge is within 12 minutes of the announced times."
    )
    assert say(WELL, replace(other, where="wagon 9")) == (
        "J2 is 12 minutes behind at wagon 9. Ask why, and re-plan below if it lasts."
    )


def test_a_judge_whose_place_is_not_known_is_not_late():
    lost = replace(WELL, behind_minutes=None)
    assert say(lost) == "Nothing to do: every judge is within 1 minute of the announced times."
    assert say() == "Nothing to do: every judge is within 1 minute of the announced times."


def test_a_judge_who_is_done_is_not_chased():
    done = replace(WELL, name="J2", behind_minutes=30, quiet_minutes=90, done=True)
    assert (
        say(WELL, done) == "Nothing to do: every judge is within 2 minutes of the announced times."
    )
    assert say(done) == "Every visit is done. See that the cards are in, then run the checks."


def test_a_quiet_phone_matters_once_a_visit_is_due():
    quiet = replace(WELL, name="J4", quiet_minutes=21)
    assert say(WELL, quiet) == (
        "No word from J4 for a while. Send somebody to look; marks stay on the phone."
    )
    more = [replace(quiet, name=f"J{n}", quiet_minutes=None) for n in range(5, 9)]
    assert say(quiet, *more).startswith("No word from J4, J5 and J6 for a while.")
    assert "Nothing to do" in say(WELL, replace(quiet, due=False))
    assert "Nothing to do" in say(WELL, replace(quiet, quiet_minutes=20))


def test_a_window_that_probably_does_not_hold_is_said():
    assert say(WELL, chance=0.49) == (
        "The window will probably not hold. Re-plan below, take a pause out, or tell people that "
        "it ends later."
    )
    assert "not hold" not in say(WELL, chance=0.5)
    assert "not hold" not in say(WELL, chance=None)


def test_before_the_opening_phones_that_were_never_heard_are_named():
    mute = replace(WELL, name="J5", quiet_minutes=None)
    assert say(WELL, mute, minutes_to_opening=12) == (
        "Judging opens in 12 minutes. Pair a phone for J5."
    )
    other = replace(mute, name="J6")
    assert say(mute, other, minutes_to_opening=1).endswith("Pair a phone for J5 and J6.")
    assert say(WELL, minutes_to_opening=12) == (
        "Judging opens in 12 minutes. Every judge has a phone that was heard."
    )
    assert "opens in 1 minute." in say(WELL, minutes_to_opening=1)
    assert "opens in 119 minutes." in say(WELL, minutes_to_opening=119)
    assert "opens in 2 hours." in say(WELL, minutes_to_opening=120)
    assert "opens in 3 hours." in say(WELL, minutes_to_opening=239)
    assert "opens in 47 hours." in say(WELL, minutes_to_opening=2 * 24 * 60 - 1)
    assert "opens in 2 days." in say(WELL, minutes_to_opening=2 * 24 * 60)
    assert "opens in 2 days." in say(WELL, minutes_to_opening=3 * 24 * 60 - 1)
