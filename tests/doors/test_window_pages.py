"""The window's page: nine days of ten, pauses, rules, the plan looked for; the weekend."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

import pytest

from judging.actions import plan_jobs
from judging.actions.set_day import add_pause
from judging.models import Announcement, DayRules, Pause, Window
from judging.web.window_view import window_view
from showrun.shows.models import AuditEntry, Show
from tests.judged_show import (
    BEFORE,
    OPENS_AT,
    build_show,
    draw_panel,
    entry_of,
    judge_of,
    open_window,
    steward_of,
)
from tests.remembered import remembered
from tests.window_page import address, client_of, press, read, said

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("queued")]


@pytest.fixture
@remembered
def show() -> Show:
    made = build_show()
    draw_panel(made)
    return made


def day(**changes: Any) -> dict[str, Any]:
    """The rules form as it stands, with some fields typed over."""
    fields = {
        "style": "rotating", "talk_minutes": 0, "settling_minutes": 0, "break_minutes": 0,
        "visit_spread_percent": 25, "pace_spread_percent": 10, "grace_minutes": 60, **changes,
    }  # fmt: skip
    return {"do": "day", **{f"day-{name}": value for name, value in fields.items()}}


def narrow(show: Show) -> Window:
    """Give the window room for the shortest plan and not for nine days of ten."""
    window = open_window(show, publish=False)
    assert window.likely_minutes is not None
    assert window.likely_minutes > window.needed_minutes + 1
    Show.objects.filter(pk=show.pk).update(judging_minutes=window.needed_minutes + 1)
    return open_window(show, publish=False)


# --- What it holds -------------------------------------------------------------------------


def test_the_page_says_the_shortest_plan_and_what_nine_days_of_ten_need(show: Show):
    window = open_window(show, publish=False)
    text = read(show)
    assert window.likely_minutes is not None
    ends = window.opens_at + timedelta(minutes=window.likely_minutes)
    assert f"by {ends.astimezone(show.tz):%-I:%M %p}" in text
    assert "all days simulated end inside it" in text
    assert window.chance == 1.0
    assert window.likely_minutes > window.needed_minutes
    assert f"Nine days of ten end within {window.likely_minutes} minutes." in window.advice[0]


def test_a_plan_that_fits_on_few_days_is_not_published_without_a_tick(show: Show):
    window = narrow(show)
    assert window.fits
    assert window.chance is not None
    assert window.chance < 0.9
    text = read(show)
    assert "Ways out" in text
    assert 'name="accept_chance"' in text
    days = window_view(show).chance
    assert f"Publish although {days} inside the window" in text
    answer = said(press(show, do="publish"))
    assert f"The plan fits, but {days} inside the window" in answer
    window.refresh_from_db()
    assert window.published_at is None
    assert "are published" in said(press(show, do="publish", accept_chance="on"))
    window.refresh_from_db()
    assert window.published_at is not None
    line = AuditEntry.objects.filter(show=show, verb="published").get()
    assert line.after == {"accepted_chance": round(window.chance, 3)}
    assert Announcement.objects.filter(show=show, number=1).count() == 1


def test_a_tick_does_not_publish_what_does_not_fit_at_all(show: Show):
    window = open_window(show, publish=False)
    Show.objects.filter(pk=show.pk).update(judging_minutes=window.needed_minutes - 1)
    open_window(show, publish=False)
    answer = press(show, do="publish", accept_chance="on")
    assert "Take one of the ways out" in said(answer)
    assert not Window.objects.filter(published_at__isnull=False).exists()


def test_the_ways_out_are_for_what_the_office_chooses_to_hold(show: Show):
    window = open_window(show, publish=False)
    short = window.needed_minutes - 5
    Show.objects.filter(pk=show.pk).update(judging_minutes=short)
    assert "It does not fit yet" in said(press(show, do="size", hold="plan"))
    plan = Window.objects.get(show=show).advice
    assert "Start at 07:55, 5 minutes earlier" in plan[1]
    said(press(show, do="size", hold="likely"))
    likely = Window.objects.get(show=show).advice
    assert "in nine days of ten, fits" in likely[1]
    earlier = re.search(r", (\d+) minutes earlier", likely[1])
    assert earlier
    assert int(earlier[1]) == (window.likely_minutes or 0) - short > 5


def test_the_way_out_by_the_clock_holds_when_it_is_taken(show: Show):
    Show.objects.filter(pk=show.pk).update(judging_minutes=30)
    said(press(show, do="size"))
    advice = Window.objects.get(show=show).advice
    found = re.search(r"Start at (\d\d:\d\d), (\d+) minutes earlier", advice[1])
    assert found
    said(press(show, do="hours", opens=found[1], minutes=30 + int(found[2])))
    assert "It fits." in said(press(show, do="size"))
    assert len(Window.objects.get(show=show).advice) == 1


def test_hours_that_cannot_be_are_said_beside_the_field(show: Show):
    answer = press(show, do="hours", opens="08:00", minutes="0")
    assert answer.status_code == 422
    assert "The hours are not set yet" in answer.content.decode()
    assert "At least a minute, please." in answer.content.decode()
    Show.objects.filter(pk=show.pk).update(
        judging_starts_at="2027-03-14T15:00:00Z", starts_on="2027-03-14", ends_on="2027-03-14"
    )
    answer = press(show, do="hours", opens="02:30", minutes="60")
    assert answer.status_code == 422
    assert "A time the clock shows, please." in answer.content.decode()


# --- Rules and pauses ----------------------------------------------------------------------


def test_rules_are_set_and_take_the_window_with_them(show: Show):
    open_window(show, publish=False)
    answer = press(show, **day(talk_minutes=2, break_minutes=10, style="walking", fair_ends="on"))
    assert "Size the window to it" in said(answer)
    rules = DayRules.objects.get(show=show)
    assert (rules.talk_minutes, rules.style, rules.fair_ends) == (2, "walking", True)
    text = read(show)
    assert "Not sized yet" in text
    assert 'value="2"' in text
    said(press(show, do="size"))
    assert "judges work side by side" in read(show)


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("talk_minutes", "-1", "Zero or more, please."),
        ("talk_minutes", "two", "A whole number, please."),
        ("break_from", "noonish", "A time such as 12:15, please."),
        ("latitude", "north", "Degrees such as 39.7, please."),
        ("latitude", "39.7", "This one too, please."),
        ("style", "flying", "Select a valid choice"),
    ],
)
def test_rules_that_make_no_sense_stay_in_the_form(show: Show, field: str, value: str, words: str):
    answer = press(show, **day(**{field: value}))
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "The rules are not set yet" in text
    assert words in text
    assert not DayRules.objects.exists()


def test_a_pause_is_noted_shown_and_taken_back(show: Show):
    for who, words in (
        ("all", "everybody"),
        (f"judge-{judge_of(show, 'J2').pk}", "Ingrid Lindqvist (J2)"),
        (f"entry-{entry_of(show, 3).pk}", "crew of 3 Copper Moth"),
    ):
        fields = {"pause-who": who, "pause-starts": "09:00", "pause-ends": "09:30"}
        answer = press(show, do="pause", **fields, **{"pause-why": "Turn-in of <beans>."})
        assert "The pause is noted" in said(answer)
        pause = Pause.objects.latest("pk")
        assert pause.ends_at - pause.starts_at == timedelta(minutes=30)
        text = read(show)
        assert f"<bdi>{words}</bdi>" in text
        assert "Turn-in of &lt;beans&gt;." in text
        assert "taken back" in said(press(show, do="drop", pause=pause.pk))
    assert not Pause.objects.exists()
    assert "No pauses" in read(show)


def test_a_pause_over_midnight_ends_on_the_next_day(show: Show):
    press(show, do="pause", **{
        "pause-who": "all", "pause-starts": "23:00", "pause-ends": "01:00", "pause-why": "Night.",
    })  # fmt: skip
    pause = Pause.objects.get()
    assert pause.ends_at - pause.starts_at == timedelta(hours=2)


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("who", "judge-0", "Select a valid choice"),
        ("starts", "", "When?"),
        ("why", "", "Say why, in a few words."),
    ],
)
def test_a_pause_that_makes_no_sense_stays_in_the_form(
    show: Show, field: str, value: str, words: str
):
    fields = {"who": "all", "starts": "09:00", "ends": "09:30", "why": "Bell.", field: value}
    answer = press(show, do="pause", **{f"pause-{name}": typed for name, typed in fields.items()})
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not Pause.objects.exists()


def test_a_judge_who_is_away_all_day_is_named_when_the_window_is_sized(show: Show):
    add_pause(
        show=show, starts_at=OPENS_AT, ends_at=OPENS_AT + timedelta(hours=5), why="Ill.",
        judge=judge_of(show, "J1"), by=None, at=BEFORE,
    )  # fmt: skip
    assert "Chidi Abara (J1) is away for the whole window" in said(press(show, do="size"))


def test_published_times_stay_when_a_pause_is_noted(show: Show):
    open_window(show)
    answer = press(show, do="pause", **{
        "pause-who": "all", "pause-starts": "09:00", "pause-ends": "09:30", "pause-why": "Bell.",
    })  # fmt: skip
    assert "change them on the page of the running day" in said(answer)
    assert Window.objects.get(show=show).published_at is not None


@pytest.mark.parametrize("number", ["", "x", "999999", "9" * 40])
def test_a_pause_or_plan_that_is_not_there_is_said_to_be_gone(show: Show, number: str):
    assert "not there any more" in said(press(show, do="drop", pause=number))
    for do in ("stop", "use", "leave"):
        assert "not there any more" in said(press(show, do=do, job=number))


@pytest.mark.parametrize("do", ["day", "pause", "drop", "look", "stop", "use", "leave"])
def test_a_steward_looks_and_changes_nothing(show: Show, do: str):
    assert press(show, steward_of(show), do=do).status_code == 403
    text = client_of(steward_of(show)).get(address(show)).content.decode()
    assert "Rules of the day" not in text
    assert not DayRules.objects.exists()


def test_another_shows_plan_is_nobodys_here(show: Show):
    other = build_show(slug="elsewhere")
    draw_panel(other)
    job = plan_jobs.ask_for_plan(show=other, kind="draw", case={}, limit_s=10, by=None, at=BEFORE)
    assert "not there any more" in said(press(show, do="stop", job=job.pk))
    job.refresh_from_db()
    assert job.state == "wanted"
