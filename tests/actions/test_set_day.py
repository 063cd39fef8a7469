"""The rules of the day and the pauses: what they change and refuse, what becomes of plans."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from typing import Any, cast

import pytest

from entries.models import Entry
from judging.actions.open_window import set_hours, size_window
from judging.actions.set_day import add_pause, drop_pause, set_day
from judging.models import DayRules, Pause, Window
from judging.queries.plan import fingerprint, show_problem
from judging.rules.windows.planner import party_problem
from judging.rules.windows.problem import Break
from showrun.errors import InvalidInput, NotFound, NotYet
from showrun.shows.models import AuditEntry, Show
from tests.judged_show import (
    BEFORE,
    OPENS_AT,
    build_show,
    draw_panel,
    entry_of,
    judge_of,
    office_of,
    open_window,
)
from tests.remembered import remembered

pytestmark = pytest.mark.django_db


@pytest.fixture
@remembered
def show() -> Show:
    made = build_show()
    draw_panel(made)
    return made


def rule(show: Show, **rules: Any) -> bool:
    return set_day(show=show, rules=rules, by=office_of(show), at=BEFORE)[1]


def pause(show: Show, first: int, last: int, why: str = "Cooks' meeting.", **who: Any) -> Pause:
    return add_pause(
        show=show,
        starts_at=OPENS_AT + timedelta(minutes=first),
        ends_at=OPENS_AT + timedelta(minutes=last),
        why=why,
        by=office_of(show),
        at=BEFORE,
        **who,
    )[0]


def needed(show: Show) -> int:
    return size_window(show=show, by=None, at=BEFORE).needed_minutes


def total(show: Show) -> int:
    return sum(need.minutes for need in show_problem(show).problem.visits)


def test_talk_and_settling_lengthen_every_visit(show: Show):
    before, visits = total(show), len(show_problem(show).problem.visits)
    assert not rule(show, talk_minutes=2, settling_minutes=1)
    assert total(show) == before + 3 * visits


def test_every_rule_reaches_the_problem(show: Show):
    rule(show, break_minutes=15, break_from=time(10), break_until=time(11), fair_ends=True)
    problem = show_problem(show).problem
    assert problem.fair_ends
    assert set(problem.breaks.values()) == {(Break(15, 120, 180),)}
    assert len(problem.breaks) == 4


def test_a_break_without_hours_may_be_anywhere_in_the_window(show: Show):
    rule(show, break_minutes=15)
    assert set(show_problem(show).problem.breaks.values()) == {(Break(15, 0, 300),)}


def test_pauses_reach_those_they_stop(show: Show):
    pause(show, 30, 60, judge=judge_of(show, "J1"))
    pause(show, 90, 120, entry=entry_of(show, 2))
    pause(show, -20, 10)
    problem = show_problem(show).problem
    by_code = {judge.code: spans for judge, spans in problem.judge_away.items()}
    by_number = {entry.number: spans for entry, spans in problem.crew_away.items()}
    assert by_code["J1"] == ((0, 10), (30, 60))
    assert by_code["J2"] == ((0, 10),)
    assert by_number[2] == ((0, 10), (90, 120))
    assert by_number[1] == ((0, 10),)


def test_a_pause_over_before_the_window_stops_nobody(show: Show):
    pause(show, -90, 0)
    assert show_problem(show).problem.judge_away == {}


def test_no_visit_falls_into_a_pause(show: Show):
    pause(show, 20, 50)
    window = size_window(show=show, by=None, at=BEFORE)
    first, last = (OPENS_AT + timedelta(minutes=m) for m in (20, 50))
    assert window.visits.exists()
    assert not window.visits.filter(starts_at__lt=last, ends_at__gt=first).exists()


@pytest.mark.parametrize("kind", ["judge", "entry"])
def test_whoever_is_away_for_the_whole_window_is_named(show: Show, kind: str):
    who: dict[str, Any] = {"judge": judge_of(show, "J3")}
    if kind == "entry":
        who = {"entry": entry_of(show, 3)}
    pause(show, -10, 200, **who)
    show_problem(show)
    pause(show, 200, 300, **who)
    with pytest.raises(NotYet, match=r"Haruko Penhallow|Copper Moth"):
        size_window(show=show, by=None, at=BEFORE)


def test_a_window_not_published_goes_with_the_rules_it_was_sized_to(show: Show):
    open_window(show, publish=False)
    assert not rule(show, latitude=39.7, longitude=-105.0)
    assert Window.objects.filter(show=show).exists()
    assert not rule(show, talk_minutes=1)
    assert not Window.objects.filter(show=show).exists()
    open_window(show, publish=False)
    made = pause(show, 30, 40)
    assert not Window.objects.filter(show=show).exists()
    open_window(show, publish=False)
    drop_pause(show=show, pause_id=made.pk, by=None, at=BEFORE)
    assert not Window.objects.filter(show=show).exists()
    assert not Pause.objects.exists()


def test_a_published_window_stays_and_the_change_says_so(show: Show):
    window = open_window(show)
    times = set(window.visits.values_list("pk", "starts_at"))
    assert rule(show, talk_minutes=1)
    assert not rule(show, talk_minutes=1)  # nothing changed
    _, published = add_pause(
        show=show,
        starts_at=OPENS_AT,
        ends_at=OPENS_AT + timedelta(minutes=5),
        why="Bell.",
        by=None,
        at=BEFORE,
    )
    assert published
    assert set(window.visits.values_list("pk", "starts_at")) == times


def test_changes_are_recorded_with_before_and_after(show: Show):
    rule(show, talk_minutes=2, break_minutes=10, break_from=time(9))
    line = AuditEntry.objects.filter(show=show, verb="set").latest("pk")
    assert line.before == {"talk_minutes": 0, "break_minutes": 0, "break_from": None}
    assert line.after == {"talk_minutes": 2, "break_minutes": 10, "break_from": "09:00"}
    made = pause(show, 0, 5, judge=judge_of(show, "J1"))
    drop_pause(show=show, pause_id=made.pk, by=office_of(show), at=BEFORE)
    verbs = list(
        AuditEntry.objects.filter(show=show).order_by("-pk").values_list("verb", flat=True)
    )
    assert verbs[:2] == ["dropped", "added"]


def test_rules_that_make_no_sense_are_refused(show: Show):
    for rules, field in (
        ({"talk_minutes": -1}, "talk_minutes"),
        ({"visit_spread_percent": 201}, "visit_spread_percent"),
        ({"style": "flying"}, "style"),
        ({"latitude": 91.0, "longitude": 0.0}, "latitude"),
        ({"latitude": 39.0}, "longitude"),
        ({"break_minutes": 61, "break_from": time(10), "break_until": time(11)}, "break_minutes"),
        ({"break_minutes": 5, "break_from": time(15), "break_until": time(16)}, "break_from"),
    ):
        with pytest.raises(InvalidInput) as refused:
            rule(show, **rules)
        assert field in refused.value.fields
    assert not DayRules.objects.exists()


def test_pauses_that_make_no_sense_are_refused(show: Show):
    other = build_show(slug="elsewhere")
    with pytest.raises(InvalidInput, match="ends after it begins"):
        pause(show, 10, 10)
    with pytest.raises(InvalidInput, match="outside the show's days"):
        pause(show, 10_000, 10_010)
    with pytest.raises(InvalidInput, match="Say why"):
        pause(show, 0, 10, why="  ")
    with pytest.raises(NotFound):
        pause(show, 0, 10, judge=judge_of(other))
    with pytest.raises(NotFound):
        pause(show, 0, 10, entry=entry_of(other))
    with pytest.raises(NotFound):
        drop_pause(show=show, pause_id=0, by=None, at=BEFORE)
    assert not Pause.objects.exists()


def test_hours_moved_away_from_the_break_are_said_when_the_window_is_sized(show: Show):
    rule(show, break_minutes=10, break_from=time(9), break_until=time(10))
    set_hours(show=show, opens_at=OPENS_AT, minutes=30, by=None, at=BEFORE)
    with pytest.raises(NotYet, match="break lies outside"):
        size_window(show=show, by=None, at=BEFORE)


def test_a_panel_that_walks_together_comes_to_each_wagon_at_one_time(show: Show):
    rotating = needed(show)
    rule(show, style="walking")
    window = size_window(show=show, by=None, at=BEFORE)
    plan = show_problem(show)
    party = party_problem(plan.problem)
    for need in party.visits:
        visits = window.visits.filter(entry=cast(Entry, need.entry))
        assert len(set(visits.values_list("starts_at", "ends_at"))) == 1
        stay = visits[0].ends_at - visits[0].starts_at
        longest = max(n.minutes for n in plan.problem.visits if n.entry == need.entry)
        assert stay == timedelta(minutes=longest)
    assert window.visits.count() == len(plan.problem.visits)
    # 5 spots 50 ft apart in a row, 200 ft a minute: a minute to each.
    assert window.needed_minutes == sum(need.minutes for need in party.visits) + 5
    assert window.proven
    assert window.needed_minutes != rotating


def test_a_walking_panel_waits_for_a_crew_and_rests(show: Show):
    rule(show, style="walking", break_minutes=10, break_from=time(8), break_until=time(8, 20))
    pause(show, 30, 300, entry=entry_of(show, 1))
    window = size_window(show=show, by=None, at=BEFORE)
    ends = window.visits.filter(entry=entry_of(show, 1)).values_list("ends_at", flat=True)
    assert set(ends) <= {OPENS_AT + timedelta(minutes=m) for m in range(31)}
    order = sorted({(visit.starts_at, visit.ends_at) for visit in window.visits.all()})
    edges = [OPENS_AT, *(edge for stop in order for edge in stop)]
    gaps = [
        (start, end)
        for start, end in zip(edges[::2], edges[1::2], strict=False)
        if start < OPENS_AT + timedelta(minutes=20)
    ]
    assert any(end - start >= timedelta(minutes=11) for start, end in gaps)


def test_the_fingerprint_changes_with_whatever_a_plan_is_made_from(show: Show):
    def now() -> str:
        show.refresh_from_db()
        return fingerprint(show_problem(show), show)

    seen = [now()]
    assert now() == seen[0]
    for change in (
        lambda: rule(show, talk_minutes=1),
        lambda: rule(show, fair_ends=True),
        lambda: rule(show, style="walking"),
        lambda: rule(show, break_minutes=5),
        lambda: pause(show, 10, 20, judge=judge_of(show, "J1")),
        lambda: pause(show, 10, 20, entry=entry_of(show, 1)),
        lambda: Show.objects.filter(pk=show.pk).update(crew_reset_minutes=3),
        lambda: Show.objects.filter(pk=show.pk).update(walking_ft_per_minute=50),
        lambda: set_hours(
            show=show, opens_at=OPENS_AT - timedelta(minutes=1), minutes=300, by=None, at=BEFORE
        ),
        lambda: judge_of(show, "J4").seats.all().delete(),
    ):
        change()
        seen.append(now())
    assert len(set(seen)) == len(seen)
    rule(show, latitude=39.7, longitude=-105.0)
    assert now() == seen[-1]


# --- Midnight and clock changes ------------------------------------------------------------


def at_night(show: Show, month: int, day: int) -> Show:
    """Let the show be on the night of a clock change in Denver."""
    when = datetime(2027, month, day, tzinfo=UTC).date()
    Show.objects.filter(pk=show.pk).update(
        starts_on=when - timedelta(days=1), ends_on=when + timedelta(days=1)
    )
    show.refresh_from_db()
    return show


def test_a_start_the_clocks_jump_over_is_refused_with_a_sentence(show: Show):
    night = at_night(show, 3, 14)
    with pytest.raises(InvalidInput, match="There is no 02:30 on that day") as refused:
        set_hours(
            show=night,
            opens_at=datetime(2027, 3, 14, 2, 30, tzinfo=night.tz),
            minutes=60,
            by=None,
            at=BEFORE,
        )
    assert "opens_at" in refused.value.fields
    with pytest.raises(InvalidInput, match="There is no 02:15"):
        add_pause(
            show=night,
            starts_at=datetime(2027, 3, 14, 2, 15, tzinfo=night.tz),
            ends_at=datetime(2027, 3, 14, 4, tzinfo=night.tz),
            why="Bell.",
            by=None,
            at=BEFORE,
        )


@pytest.mark.parametrize(("month", "day", "end"), [(3, 14, "04:30"), (11, 7, "02:30")])
def test_minutes_over_a_clock_change_are_minutes_that_pass(
    show: Show, month: int, day: int, end: str
):
    night = at_night(show, month, day)
    opens = datetime(2027, month, day, 0, 30, tzinfo=night.tz)
    set_hours(show=night, opens_at=opens, minutes=180, by=None, at=BEFORE)
    night.refresh_from_db()
    # Everybody stops for the last hour, which begins two hours after the opening.
    starts = opens.astimezone(UTC) + timedelta(hours=2)
    add_pause(
        show=night,
        starts_at=starts,
        ends_at=starts + timedelta(hours=1),
        why="Bell.",
        by=None,
        at=BEFORE,
    )
    assert set(show_problem(night).problem.judge_away.values()) == {((120, 180),)}
    window = size_window(show=night, by=None, at=BEFORE)
    closes = window.opens_at + timedelta(minutes=window.available_minutes)
    assert f"{closes.astimezone(night.tz):%H:%M}" == end


def test_a_break_after_midnight_is_on_the_next_day(show: Show):
    set_hours(
        show=show,
        opens_at=datetime(2027, 5, 15, 22, tzinfo=show.tz),
        minutes=300,
        by=None,
        at=BEFORE,
    )
    show.refresh_from_db()
    rule(show, break_minutes=20, break_from=time(0, 30), break_until=time(1, 30))
    assert set(show_problem(show).problem.breaks.values()) == {(Break(20, 150, 210),)}
