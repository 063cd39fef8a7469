"""Plans a worker looks for: one at a time, claimed once, stopped, lost, taken over or refused."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from judging import tasks
from judging.actions import plan_jobs
from judging.actions.draw_plan import solve_draw
from judging.actions.open_window import publish_window, size_window
from judging.actions.set_day import set_day
from judging.models import PlanJob, Visit, Window
from judging.queries.plan import show_problem
from judging.rules.windows.planner import party_problem, together
from judging.rules.windows.problem import Rotation
from judging.rules.windows.problem import Visit as Stay
from judging.rules.windows.verify import faults
from showrun.errors import Conflict, InvalidInput, NotYet
from showrun.shows.models import AuditEntry, Show
from tests.judged_show import BEFORE, build_show, draw_panel, judge_of, office_of, open_window
from tests.remembered import remembered

pytestmark = pytest.mark.django_db
DRAW = PlanJob.Kind.DRAW
LATER = BEFORE + timedelta(minutes=1)


@pytest.fixture
@remembered
def show() -> Show:
    made = build_show()
    draw_panel(made)
    return made


def ask(show: Show, limit_s: int = 10, **case: Any) -> PlanJob:
    return plan_jobs.ask_for_plan(
        show=show, kind=DRAW, case=case, limit_s=limit_s, by=office_of(show), at=BEFORE
    )


def solved(show: Show) -> PlanJob:
    """Ask, claim, solve and finish, as a worker would."""
    job = ask(show)
    claimed = plan_jobs.claim(job_id=job.pk, at=BEFORE)
    assert claimed is not None
    found: list[tuple[int, int]] = []
    result = solve_draw(claimed, threading.Event(), lambda m, b: found.append((m, b)))
    assert found[0][0] >= found[-1][0] == result["makespan"]
    assert plan_jobs.finish(job_id=job.pk, result=result, said=result["said"], at=LATER)
    job.refresh_from_db()
    return job


def use(show: Show, job: PlanJob) -> Window:
    return plan_jobs.use_plan(show=show, job=job, by=office_of(show), at=LATER)


def lengthen(show: Show, minutes: int = 7) -> set[tuple[int, Any]]:
    """Make the window's plan worse than it need be: all visits of one judge come much later."""
    window = Window.objects.get(show=show)
    last = max(visit.ends_at for visit in window.visits.all())
    shift = last - window.opens_at + timedelta(minutes=minutes)
    for visit in window.visits.filter(judge=judge_of(show, "J1")):
        visit.starts_at, visit.ends_at = visit.starts_at + shift, visit.ends_at + shift
        visit.save()
    ends = max(visit.ends_at for visit in window.visits.all())
    window.needed_minutes = int((ends - window.opens_at).total_seconds() // 60)
    window.proven = False
    window.save()
    return set(window.visits.values_list("pk", "starts_at"))


def test_one_plan_at_a_time_is_looked_for(show: Show):
    ask(show)
    with pytest.raises(Conflict, match="looked for already"):
        ask(show)
    assert PlanJob.objects.count() == 1
    assert AuditEntry.objects.filter(show=show, verb="asked for").count() == 1


@pytest.mark.parametrize("limit_s", [0, plan_jobs.LONGEST_S + 1])
def test_a_limit_out_of_reach_is_refused(show: Show, limit_s: int):
    with pytest.raises(InvalidInput, match="seconds"):
        ask(show, limit_s)


def test_a_show_without_a_panel_has_nothing_to_look_for():
    with pytest.raises(NotYet, match="Draw the panel first"):
        ask(build_show(slug="bare"))


def test_announced_times_are_not_looked_for_anew(show: Show):
    job = solved(show)
    window = open_window(show)
    with pytest.raises(Conflict, match="published"):
        ask(show)
    times = set(window.visits.values_list("pk", "starts_at"))
    with pytest.raises(Conflict, match="published"):
        use(show, job)
    assert set(Visit.objects.values_list("pk", "starts_at")) == times


def test_a_job_is_claimed_once(show: Show):
    job = ask(show)
    assert plan_jobs.claim(job_id=job.pk, at=BEFORE) is not None
    assert plan_jobs.claim(job_id=job.pk, at=BEFORE) is None
    job.refresh_from_db()
    assert (job.state, job.case["tries"], job.heard_at) == ("running", 1, BEFORE)


def test_a_found_plan_is_used_and_keeps_every_rule(show: Show):
    open_window(show, publish=False)
    lengthen(show)
    longer = Window.objects.get(show=show).needed_minutes
    job = solved(show)
    assert job.state == "done"
    window = use(show, job)
    assert window.needed_minutes == job.result["makespan"] < longer
    assert window.proven == job.result["proven"]
    assert (window.likely_minutes or 0) > window.needed_minutes
    assert window.solver == job.result["solver"]
    plan = show_problem(show)
    minute = timedelta(minutes=1)
    stays = tuple(
        Stay(v.entry, v.judge, (v.starts_at - window.opens_at) // minute,
             (v.ends_at - window.opens_at) // minute)
        for v in window.visits.select_related("entry", "judge")
    )  # fmt: skip
    kept = Rotation(stays, window.needed_minutes, window.bound_minutes, window.proven, "kept")
    assert faults(plan.problem, kept) == ()
    job.refresh_from_db()
    assert job.state == "used"
    line = AuditEntry.objects.filter(show=show, verb="used").get()
    assert (line.before, line.after) == ({"needed": longer}, {"needed": window.needed_minutes})
    with pytest.raises(NotYet):
        use(show, job)


def test_what_is_found_is_never_longer_than_the_windows_own_plan(show: Show):
    window = open_window(show, publish=False)
    assert solved(show).result["makespan"] <= window.needed_minutes


def test_a_walking_panels_plan_is_proven_and_used(show: Show):
    set_day(show=show, rules={"style": "walking"}, by=None, at=BEFORE)
    size_window(show=show, by=None, at=BEFORE)
    job = solved(show)
    window = use(show, job)
    assert window.proven
    plan = show_problem(show)
    assert window.visits.count() == len(plan.problem.visits)
    entries = {entry.pk: entry for entry in plan.entries}
    stays = tuple(
        Stay(entries[entry], judge, start, end) for judge, entry, start, end in job.result["visits"]
    )
    walked = together(Rotation(stays, window.needed_minutes, window.bound_minutes, True, "kept"))
    assert faults(party_problem(plan.problem), walked) == ()


def test_a_plan_overtaken_by_a_change_is_refused_and_marked(show: Show):
    window = open_window(show, publish=False)
    job = solved(show)
    judge_of(show, "J4").seats.filter(entry__number=1).delete()
    judge_of(show, "J3").seats.filter(entry__number=2).delete()
    times = set(window.visits.values_list("pk", "starts_at"))
    with pytest.raises(Conflict, match="changed since"):
        use(show, job)
    job.refresh_from_db()
    assert job.state == "stale"
    assert set(Visit.objects.values_list("pk", "starts_at")) == times


def test_a_search_begun_after_a_change_ends_with_a_sentence(show: Show):
    job = ask(show)
    set_day(show=show, rules={"talk_minutes": 1}, by=None, at=BEFORE)
    claimed = plan_jobs.claim(job_id=job.pk, at=BEFORE)
    assert claimed is not None
    with pytest.raises(Conflict, match="changed meanwhile"):
        solve_draw(claimed, threading.Event(), lambda m, b: None)


def test_a_result_that_breaks_a_rule_is_not_used(show: Show):
    window = open_window(show, publish=False)
    job = solved(show)
    job.result["visits"][0][2] -= 500
    job.save()
    times = set(window.visits.values_list("pk", "starts_at"))
    with pytest.raises(Conflict, match="breaks a rule"):
        use(show, job)
    assert set(Visit.objects.values_list("pk", "starts_at")) == times


def test_a_found_plan_may_be_left(show: Show):
    open_window(show, publish=False)
    job = solved(show)
    plan_jobs.leave_plan(show=show, job=job, by=None, at=LATER)
    with pytest.raises(NotYet):
        use(show, job)
    with pytest.raises(Conflict):
        plan_jobs.leave_plan(show=show, job=job, by=None, at=LATER)


def test_a_waiting_job_stops_at_once_and_a_running_one_is_told(show: Show):
    job = ask(show)
    plan_jobs.stop(job=job, by=None, at=BEFORE)
    job.refresh_from_db()
    assert job.state == "stopped"
    with pytest.raises(Conflict, match="not being looked for"):
        plan_jobs.stop(job=job, by=None, at=BEFORE)
    job = ask(show)
    plan_jobs.claim(job_id=job.pk, at=BEFORE)
    assert not plan_jobs.stop_is_wanted(job.pk)
    plan_jobs.stop(job=job, by=None, at=BEFORE)
    assert plan_jobs.stop_is_wanted(job.pk)
    plan_jobs.finish(job_id=job.pk, result={"visits": []}, said="So far.", at=LATER)
    job.refresh_from_db()
    assert (job.state, job.said) == ("stopped", "So far.")


def test_the_sweep_gives_a_lost_job_back_once_and_then_up(show: Show):
    job = ask(show)
    assert plan_jobs.mark_queued(at=BEFORE) == []
    at = BEFORE + plan_jobs.PATIENCE * 2
    assert plan_jobs.mark_queued(at=at) == [job.pk]
    assert plan_jobs.mark_queued(at=at) == []  # asked for just now
    plan_jobs.claim(job_id=job.pk, at=at)
    assert plan_jobs.mark_queued(at=at + plan_jobs.LEASE) == []  # still heard of
    lost = at + plan_jobs.LEASE * 2
    assert plan_jobs.mark_queued(at=lost) == [job.pk]
    job.refresh_from_db()
    assert job.state == "wanted"
    plan_jobs.claim(job_id=job.pk, at=lost)
    assert plan_jobs.mark_queued(at=lost + plan_jobs.LEASE * 2) == []
    job.refresh_from_db()
    assert job.state == "failed"
    assert "still stands" in job.said


def test_a_lost_job_that_was_to_stop_is_not_begun_again(show: Show):
    job = ask(show)
    plan_jobs.claim(job_id=job.pk, at=BEFORE)
    plan_jobs.stop(job=job, by=None, at=BEFORE)
    assert plan_jobs.mark_queued(at=BEFORE + plan_jobs.LEASE * 2) == []
    job.refresh_from_db()
    assert job.state == "failed"


def test_a_worker_that_comes_back_late_changes_nothing(show: Show):
    job = ask(show)
    plan_jobs.claim(job_id=job.pk, at=BEFORE)
    plan_jobs.fail(job_id=job.pk, said="Gone.", at=BEFORE)
    assert not plan_jobs.finish(job_id=job.pk, result={"visits": [1]}, said="Late.", at=LATER)
    plan_jobs.note_progress(job_id=job.pk, found=[], at=LATER)
    assert plan_jobs.stop_is_wanted(job.pk)
    job.refresh_from_db()
    assert (job.state, job.said, job.result) == ("failed", "Gone.", {})


# --- The task ------------------------------------------------------------------------------


def looking(
    monkeypatch: pytest.MonkeyPatch, solve: Callable[..., dict[str, Any]]
) -> Callable[[PlanJob], PlanJob]:
    """Let the task run with this search in its thread, which touches no row."""
    monkeypatch.setitem(tasks.SOLVERS, DRAW, solve)
    monkeypatch.setattr(tasks, "LOOK_S", 0.02)

    def run(job: PlanJob) -> PlanJob:
        tasks.plan_job_task(job_id=job.pk)
        job.refresh_from_db()
        return job

    return run


def test_the_task_notes_what_is_found_on_the_way(show: Show, monkeypatch: pytest.MonkeyPatch):
    def solve(job: PlanJob, stop: threading.Event, report: Any) -> dict[str, Any]:
        report(200, 150)
        time.sleep(0.1)
        report(180, 150)
        return {"visits": [], "said": "Shorter."}

    job = looking(monkeypatch, solve)(ask(show))
    assert (job.state, job.said) == ("done", "Shorter.")
    assert [(step["minutes"], step["bound"]) for step in job.progress] == [(200, 150), (180, 150)]
    assert job.progress[1]["seconds"] >= 0.1


def test_the_office_stops_a_search_and_keeps_what_it_has(
    show: Show, monkeypatch: pytest.MonkeyPatch
):
    asked = ask(show, 300)

    def solve(job: PlanJob, stop: threading.Event, report: Any) -> dict[str, Any]:
        assert stop.wait(20)
        return {"visits": [], "said": "So far."}

    wished = plan_jobs.stop_is_wanted

    def wish(job_id: int) -> bool:
        """The office presses the button while the search goes on."""
        if not wished(job_id):
            plan_jobs.stop(job=asked, by=None, at=BEFORE)
        return wished(job_id)

    monkeypatch.setattr(plan_jobs, "stop_is_wanted", wish)
    began = time.monotonic()
    job = looking(monkeypatch, solve)(asked)
    assert time.monotonic() - began < 10
    assert (job.state, job.said) == ("stopped", "So far.")


def test_a_search_that_breaks_leaves_a_sentence_and_the_plan(
    show: Show, monkeypatch: pytest.MonkeyPatch
):
    window = open_window(show, publish=False)
    times = set(window.visits.values_list("pk", "starts_at"))

    def solve(job: PlanJob, stop: threading.Event, report: Any) -> dict[str, Any]:
        raise RuntimeError("boom")

    job = looking(monkeypatch, solve)(ask(show))
    assert job.state == "failed"
    assert "boom" not in job.said
    assert "still stands" in job.said
    assert set(Visit.objects.values_list("pk", "starts_at")) == times
    publish_window(show=show, by=None, at=BEFORE)


def test_a_refusal_is_told_in_its_own_words(show: Show, monkeypatch: pytest.MonkeyPatch):
    def solve(job: PlanJob, stop: threading.Event, report: Any) -> dict[str, Any]:
        raise Conflict("The panel changed meanwhile.")

    job = looking(monkeypatch, solve)(ask(show))
    assert (job.state, job.said) == ("failed", "The panel changed meanwhile.")


def test_a_task_told_twice_runs_once(show: Show, monkeypatch: pytest.MonkeyPatch):
    ran: list[int] = []

    def solve(job: PlanJob, stop: threading.Event, report: Any) -> dict[str, Any]:
        ran.append(job.pk)
        return {"visits": [], "said": ""}

    run = looking(monkeypatch, solve)
    job = ask(show)
    run(job)
    run(job)
    assert ran == [job.pk]
