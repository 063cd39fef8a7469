"""An embargo: a signed result goes out at its hour, once, and only as it was signed."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from judging.actions.compute_result import compute_result
from judging.actions.engage_judge import declare_conflict
from judging.actions.release_result import release_result
from judging.actions.set_release_hour import (
    cancel_release_hour,
    release_due,
    set_release_hour,
)
from judging.models import Question, Result, Seat, Signature
from judging.queries.release_hours import stopped_releases
from judging.tasks import release_due_results
from showrun.errors import Conflict, InvalidInput, NotYet
from showrun.shows.models import AuditEntry, Show
from tests.judged_show import AT, class_of, office_of
from tests.released_show import LATER, change_marks, judged_with_purse, signed
from tests.tampered import unguarded

pytestmark = pytest.mark.django_db

DUE = AT + timedelta(hours=2)


@pytest.fixture
def show() -> Show:
    return judged_with_purse()


def due_one(show: Show, due: datetime = DUE) -> Result:
    return set_release_hour(result=signed(show), due=due, by=office_of(show), at=AT)


def verbs(show: Show) -> list[str]:
    lines = AuditEntry.objects.filter(show=show, verb__contains="release").order_by("id")
    return list(lines.values_list("verb", flat=True))


def test_it_goes_out_at_its_hour_and_not_a_moment_before(show):
    result = due_one(show)
    assert release_due(at=DUE - timedelta(microseconds=1)) == []
    assert not Result.objects.released().exists()
    assert release_due(at=DUE) == [result]
    public = Result.objects.released().get()
    assert (public.released_at, public.released_by) == (DUE, office_of(show))
    line = AuditEntry.objects.get(show=show, verb="released")
    assert line.after == {"hour_set": DUE.isoformat()}


def test_asked_twice_it_is_released_once(show):
    due_one(show)
    release_due(at=DUE)
    assert release_due(at=DUE + timedelta(minutes=1)) == []
    assert verbs(show) == ["set the hour of release", "released"]
    assert Result.objects.released().get().released_at == DUE


def test_only_one_show_is_looked_at_where_one_is_named(show):
    due_one(show)
    other = Show.objects.create(
        slug="other", name="Other", ground="There", starts_on="2027-06-01", ends_on="2027-06-02",
        judging_starts_at=AT, judging_minutes=60, entry_cap=1,
    )  # fmt: skip
    assert release_due(at=DUE, show=other) == []
    assert len(release_due(at=DUE, show=show)) == 1


def test_the_task_releases_what_is_due_by_the_clock(show, monkeypatch):
    due_one(show)
    monkeypatch.setattr("judging.tasks.now", lambda: DUE)
    assert release_due_results() == 1
    assert release_due_results() == 0
    assert Result.objects.released().count() == 1


def test_the_hour_can_be_moved_and_taken_back(show):
    result = due_one(show)
    later = DUE + timedelta(hours=1)
    set_release_hour(result=result, due=later, by=office_of(show), at=AT)
    set_release_hour(result=result, due=later, by=office_of(show), at=AT)
    assert release_due(at=DUE) == []
    cancel_release_hour(result=result, by=office_of(show), at=AT)
    cancel_release_hour(result=result, by=office_of(show), at=AT)
    assert release_due(at=later) == []
    assert verbs(show) == ["set the hour of release"] * 2 + ["cancelled the hour of release"]
    moved = AuditEntry.objects.filter(verb="set the hour of release").latest("id")
    assert (moved.before, moved.after) == ({"due": DUE.isoformat()}, {"due": later.isoformat()})


@pytest.mark.parametrize("minutes", [-60, 0])
def test_an_hour_that_has_passed_is_refused(show, minutes):
    with pytest.raises(InvalidInput, match="has passed"):
        due_one(show, AT + timedelta(minutes=minutes))


def test_an_hour_too_far_off_is_refused(show):
    with pytest.raises(InvalidInput, match="more than a year"):
        due_one(show, datetime(9999, 12, 31, 23, 59, tzinfo=show.tz))


def test_an_hour_the_clocks_jump_over_is_refused_and_one_that_comes_twice_is_the_first(show):
    result = signed(show)
    skipped = datetime(2028, 3, 12, 2, 30, tzinfo=show.tz)
    with pytest.raises(InvalidInput, match="There is no 02:30"):
        set_release_hour(result=result, due=skipped, by=office_of(show), at=AT)
    twice = datetime(2027, 11, 7, 1, 30, tzinfo=show.tz)
    result = set_release_hour(result=result, due=twice, by=office_of(show), at=AT)
    assert result.release_due_at
    assert result.release_due_at == twice
    assert result.release_due_at.astimezone(show.tz).utcoffset() == timedelta(hours=-6)


def test_only_what_could_be_released_now_gets_an_hour(show):
    result = compute_result(show_class=class_of(show), by=office_of(show), at=AT)
    with pytest.raises(NotYet, match="needs 2 signatures"):
        set_release_hour(result=result, due=DUE, by=office_of(show), at=AT)
    out = release_result(result=signed(show), by=office_of(show), at=AT)
    with pytest.raises(Conflict, match="released already"):
        set_release_hour(result=out, due=DUE, by=office_of(show), at=AT)
    with pytest.raises(Conflict, match="released already"):
        cancel_release_hour(result=out, by=office_of(show), at=AT)


def test_changed_marks_stop_it_for_good_and_the_record_says_why(show):
    due_one(show)
    change_marks(show, number=2, value=10, at=LATER)
    assert release_due(at=DUE) == []
    assert not Result.objects.released().exists()
    stopped = stopped_releases(show)[class_of(show).pk]
    assert (stopped.version, stopped.due_at) == (1, DUE)
    assert stopped.why.startswith("Marks changed after this result was computed.")
    # It does not go out by itself at some other hour, and says so once.
    assert release_due(at=DUE + timedelta(hours=3)) == []
    assert verbs(show)[-1] == "could not release at its hour"
    assert verbs(show).count("could not release at its hour") == 1


def test_a_lost_signature_stops_it(show):
    result = due_one(show)
    with unguarded(Signature):
        Signature.objects.filter(result=result).latest("signed_at").delete()
    assert release_due(at=DUE) == []
    assert "needs 2 signatures; it has 1" in stopped_releases(show)[class_of(show).pk].why


def test_a_newer_version_stops_the_older_ones_hour(show):
    due_one(show)
    change_marks(show, number=2, value=10, at=LATER)
    newer = signed(show, reason="Read again.", at=LATER)
    assert release_due(at=DUE) == []
    assert "newer version" in stopped_releases(show)[class_of(show).pk].why
    set_release_hour(result=newer, due=DUE + timedelta(hours=1), by=office_of(show), at=DUE)
    assert release_due(at=DUE + timedelta(hours=1)) == [newer]


def test_a_conflict_noted_after_the_signatures_keeps_the_result_in(show):
    result = due_one(show)
    seat = Seat.objects.filter(entry__in=result.placings.values("entry")).earliest("pk")
    declare_conflict(
        judge=seat.judge, entry=seat.entry, kind="kin", reason="brother", by=office_of(show), at=AT
    )
    with pytest.raises(NotYet) as refused:
        release_result(result=result, by=office_of(show), at=AT)
    assert refused.value.code == "judge-in-conflict"
    assert release_due(at=DUE) == []
    assert not Result.objects.released().exists()


def test_a_question_put_after_the_signatures_keeps_the_result_in(show):
    result = due_one(show)
    seat = Seat.objects.filter(entry__in=result.placings.values("entry")).earliest("pk")
    Question.objects.create(
        judge=seat.judge, kind="card", check_name="cards", entry=seat.entry, sentence="Is it so?",
        asked_about="x", statistic=5, threshold=3, alpha=0.05, asked_at=AT,
    )  # fmt: skip
    with pytest.raises(NotYet) as refused:
        release_result(result=result, by=office_of(show), at=AT)
    assert refused.value.code == "questions-open"
    assert release_due(at=DUE) == []
    assert not Result.objects.released().exists()
