"""New times on the running day: what happened is noted, times change once they are announced."""

from __future__ import annotations

import threading
from datetime import timedelta

import pytest

from entries.models import Entry
from judging.actions import plan_jobs
from judging.actions.announce import change_times
from judging.actions.replan_day import (
    Happening,
    What,
    announce_replan,
    ask_replan,
    leave_replan,
    solve_replan,
)
from judging.models import Announcement, CalledOffVisit, Judge, Pause, PlanJob, Seat, Visit
from judging.queries.day_case import day_case
from judging.queries.difference import difference
from judging.rules.windows.replan import push
from showrun.errors import Conflict, InvalidInput, NotYet
from tests.judged_show import (
    OPENS_AT,
    build_show,
    card_events,
    entry_of,
    judge_of,
    moved_much,
    office_of,
    open_window,
    pair,
    send,
)
from tests.remembered import remembered
from tests.round_events import opened

pytestmark = pytest.mark.django_db


def minute(m):
    return OPENS_AT + timedelta(minutes=m)


@pytest.fixture
@remembered
def show():
    show = build_show(n_entries=8, n_judges=4)
    open_window(show)
    return show


def ask(show, what, at=OPENS_AT, **facts):
    return ask_replan(show=show, happening=Happening(what, **facts), by=office_of(show), at=at)


def solved(job):
    """The job as a worker leaves it."""
    assert plan_jobs.claim(job_id=job.pk, at=minute(0))
    result = solve_replan(job, threading.Event(), lambda minutes, bound: None)
    assert plan_jobs.finish(job_id=job.pk, result=result, said=result["said"], at=minute(0))
    return PlanJob.objects.get(pk=job.pk)


def announced():
    return {
        (visit.judge_id, visit.entry_id): (visit.starts_at, visit.ends_at)
        for visit in Visit.objects.all()
    }


def announce(show, job, way, at=OPENS_AT + timedelta(minutes=1)):
    return announce_replan(show=show, job=job, way=way, by=office_of(show), at=at)


def test_a_judge_held_up_is_noted_and_nothing_is_announced(show):
    before = announced()
    job = ask(show, What.LATE, judge=judge_of(show, "J1"), minutes=25, reason="thrown shoe")
    assert announced() == before
    assert job.case["cause"] == "J1 is held up by 25 minutes: thrown shoe."
    assert job.state == PlanJob.State.WANTED
    pause = Pause.objects.get()
    assert (pause.judge, pause.ends_at - pause.starts_at) == (
        judge_of(show, "J1"), timedelta(minutes=25),
    )  # fmt: skip
    found = difference(show, job)
    assert found is not None
    assert found.search is None
    assert found.push.visits > 0
    assert Announcement.objects.count() == 1


def test_the_search_moves_no_more_than_the_push_and_breaks_no_rule(show):
    job = solved(ask(show, What.LATE, judge=judge_of(show, "J1"), minutes=25))
    found = difference(show, job)
    assert found is not None
    assert found.search is not None
    assert found.search.over_minutes <= found.push.over_minutes
    assert moved_much(found.search) <= moved_much(found.push)
    announce(show, job, "search")
    day = day_case(show, at=minute(0))
    again = push(day.case)
    assert again.score == (0, 0, 0), "the announced times are clean against what is known"
    assert again.faults() == ()


def test_announcing_changes_only_what_the_difference_showed(show):
    before = announced()
    job = solved(ask(show, What.LATE, judge=judge_of(show, "J1"), minutes=25))
    found = difference(show, job)
    assert found is not None
    assert found.search is not None
    told = announce(show, job, "search")
    shown = {(line.judge.pk, line.entry.pk): line.now for line in found.search.moved}
    assert {(line["judge"], line["entry"]) for line in told.changes} == set(shown)
    assert announced() == {**before, **shown}
    assert told.reason.startswith("J1 is held up by 25 minutes")
    assert PlanJob.objects.get(pk=job.pk).state == PlanJob.State.USED
    with pytest.raises(Conflict, match="already"):
        announce(show, job, "search")


def test_the_push_can_be_announced_without_waiting_for_the_search(show):
    job = ask(show, What.LATE, judge=judge_of(show, "J1"), minutes=25)
    with pytest.raises(NotYet):
        announce(show, job, "search")
    told = announce(show, job, "push")
    assert told.number == 2
    left = PlanJob.objects.get(pk=job.pk)
    assert (left.state, left.stop_wanted) == (PlanJob.State.USED, True)


def test_a_crew_away_gets_no_visit_then(show):
    entry = entry_of(show, 3)
    first = Visit.objects.filter(entry=entry, starts_at__gte=minute(10)).earliest("starts_at")
    span = (first.starts_at - timedelta(minutes=1), first.starts_at + timedelta(minutes=29))
    job = solved(ask(show, What.CREW, entry=entry, starts_at=span[0], ends_at=span[1]))
    announce(show, job, "search")
    inside = Visit.objects.filter(entry=entry, starts_at__lt=span[1], ends_at__gt=span[0])
    assert not inside.exists()


def test_when_everybody_stops_no_visit_takes_place(show):
    job = solved(ask(show, What.STOP, starts_at=minute(20), ends_at=minute(40), reason="hail"))
    announce(show, job, "search")
    assert not Visit.objects.filter(starts_at__lt=minute(40), ends_at__gt=minute(20)).exists()
    assert Pause.objects.get().why == "hail"


def test_a_judge_who_is_gone_is_replaced_and_the_visits_are_called_off_once_announced(show):
    ill = judge_of(show, "J1")
    device, _ = pair(ill)
    own = list(Visit.objects.filter(judge=ill).order_by("starts_at"))
    send(device, [opened(own[0].entry), *card_events(ill, own[0].entry)], at=minute(9))
    before = announced()
    job = solved(ask(show, What.GONE, at=minute(10), judge=ill, reason="heat"))
    assert announced() == before, "nothing is announced yet"
    assert Judge.objects.get(pk=ill.pk).left_at == minute(10)
    announce(show, job, "search", at=minute(11))
    seated = set(Seat.objects.filter(judge__show=show).values_list("judge_id", "entry_id"))
    assert announced().keys() == seated
    assert (ill.pk, own[0].entry_id) in seated
    off = set(CalledOffVisit.objects.values_list("judge_id", "entry_id"))
    assert off == {(ill.pk, visit.entry_id) for visit in own[1:]}
    assert all(
        start >= minute(10) for pair, (start, _) in announced().items() if pair not in before
    )


def test_a_scratched_wagon_is_called_off_and_the_others_keep_their_times(show):
    before = announced()
    entry = entry_of(show, 4)
    job = ask(show, What.SCRATCHED, entry=entry, reason="lame wheeler")
    assert job.state == PlanJob.State.DONE, "nobody has to move"
    assert announced() == before
    announce(show, job, "push")
    assert announced() == {pair: span for pair, span in before.items() if pair[1] != entry.pk}
    assert Entry.objects.get(pk=entry.pk).status == "scratched"


def test_a_day_that_drifted_is_planned_from_where_everybody_is(show):
    judge = judge_of(show, "J1")
    device, _ = pair(judge)
    first = Visit.objects.filter(judge=judge).earliest("starts_at")
    late = minute(18)
    send(device, [opened(first.entry)], at=late)
    job = solved(ask(show, What.DRIFT, at=late))
    announce(show, job, "search", at=late)
    mine = Visit.objects.filter(judge=judge).exclude(pk=first.pk).earliest("starts_at")
    assert mine.starts_at >= late + (first.ends_at - first.starts_at)


@pytest.mark.parametrize("happening", ["begun", "announced", "mended", "passed"])
def test_a_difference_the_day_has_overtaken_is_refused(show, happening):
    before = announced()
    job = solved(ask(show, What.LATE, judge=judge_of(show, "J1"), minutes=25))
    found = difference(show, job)
    assert found is not None
    line = found.best.moved[0]
    at = minute(1)
    if happening == "begun":
        device, _ = pair(line.judge)
        send(device, [opened(line.entry)], at=at)
    elif happening == "announced":
        last = max(before, key=lambda pair: before[pair][1])
        span = tuple(moment + timedelta(hours=1) for moment in before[last])
        change_times(show=show, times={last: span}, reason="x", by=office_of(show), at=at)
    elif happening == "mended":
        Seat.objects.filter(judge=line.judge, entry=line.entry).delete()
    else:
        at = line.now[0] + timedelta(minutes=6)
    kept = announced()
    with pytest.raises(Conflict, match="meanwhile") as refused:
        announce(show, job, found.best.way, at=at)
    assert refused.value.code == "stale"
    assert announced() == kept
    assert PlanJob.objects.get(pk=job.pk).state == PlanJob.State.STALE


def test_a_visit_that_begins_as_announced_overtakes_nothing(show):
    job = solved(ask(show, What.LATE, judge=judge_of(show, "J1"), minutes=25))
    found = difference(show, job)
    assert found is not None
    moved = {(line.judge.pk, line.entry.pk) for line in found.best.moved}
    visits = Visit.objects.order_by("starts_at")
    other = next(visit for visit in visits if (visit.judge_id, visit.entry_id) not in moved)
    device, _ = pair(other.judge)
    send(device, [opened(other.entry)], at=minute(1))
    assert announce(show, job, found.best.way, at=minute(1)).number == 2


def test_left_stopped_or_failed_the_announced_times_stand(show):
    before = announced()
    job = ask(show, What.LATE, judge=judge_of(show, "J1"), minutes=25)
    plan_jobs.claim(job_id=job.pk, at=minute(0))
    plan_jobs.fail(job_id=job.pk, said="The worker vanished.", at=minute(0))
    failed = PlanJob.objects.get(pk=job.pk)
    assert announced() == before
    found = difference(show, failed)
    assert found is not None
    assert (found.search, found.best.way) == (None, "push")
    leave_replan(show=show, job=failed, by=office_of(show), at=minute(1))
    assert announced() == before
    with pytest.raises(Conflict):
        announce(show, failed, "push")


def test_a_search_that_is_stopped_at_once_gives_no_worse_than_the_push(show):
    job = ask(show, What.LATE, judge=judge_of(show, "J1"), minutes=25)
    stop = threading.Event()
    stop.set()
    result = solve_replan(job, stop, lambda minutes, bound: None)
    assert (result["over"], result["moved"]) <= (
        job.case["push"]["over"], job.case["push"]["moved"],
    )  # fmt: skip


def test_a_newer_question_takes_the_place_of_an_open_one(show):
    first = ask(show, What.LATE, judge=judge_of(show, "J1"), minutes=25)
    second = ask(show, What.LATE, judge=judge_of(show, "J2"), minutes=12)
    assert PlanJob.objects.get(pk=first.pk).state == PlanJob.State.STALE
    assert second.state in (PlanJob.State.WANTED, PlanJob.State.DONE)
    with pytest.raises(Conflict):
        announce(show, first, "push")


def test_what_makes_no_sense_is_refused_and_leaves_no_trace(show):
    with pytest.raises(InvalidInput, match="over already"):
        ask(show, What.STOP, at=minute(60), starts_at=minute(10), ends_at=minute(20))
    with pytest.raises(InvalidInput):
        ask(show, What.GONE, judge=judge_of(show, "J1"), reason=" ")
    assert not PlanJob.objects.exists()
    assert not Pause.objects.exists()
    assert judge_of(show, "J1").left_at is None


def test_before_the_times_are_published_there_is_nothing_to_replan():
    show = build_show(slug="not-yet")
    open_window(show, publish=False)
    with pytest.raises(NotYet, match="publish"):
        ask(show, What.DRIFT)
