"""Workers, and somebody by hand, release a result at its hour at the same moment."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from judging.actions.release_result import release_result
from judging.actions.set_release_hour import cancel_release_hour, release_due, set_release_hour
from judging.models import Result
from judging.queries.release_hours import STOPPED
from reports.actions.want_certificates import want_certificates
from reports.actions.want_judge_reports import want_judge_reports
from reports.actions.want_papers import want_papers
from reports.models import Paper
from showrun.errors import Conflict
from showrun.shows.models import AuditEntry, Show
from tests.judged_show import AT, class_of, office_of
from tests.released_show import change_marks, judged_with_purse, released, signed
from tests.services.test_race import at_once, locking  # noqa: F401  fixture

pytestmark = pytest.mark.django_db(transaction=True)
DUE = AT + timedelta(hours=2)
WORKERS = 6


def due_one(show: Show) -> Result:
    return set_release_hour(result=signed(show), due=DUE, by=office_of(show), at=AT)


def verbs(show: Show) -> list[str]:
    lines = AuditEntry.objects.filter(show=show, verb__contains="release")
    return sorted(lines.values_list("verb", flat=True))


def work() -> list[int]:
    return [result.pk for result in release_due(at=DUE)]


def test_many_workers_release_a_result_once():
    show = judged_with_purse()
    result = due_one(show)
    told = at_once([work] * WORKERS)
    assert sorted(told, key=len) == [*[[]] * (WORKERS - 1), [result.pk]]
    assert verbs(show) == ["released", "set the hour of release"]
    public = Result.objects.released().get()
    assert (public.pk, public.released_at) == (result.pk, DUE)


def test_a_hand_and_the_workers_at_once_release_it_once():
    show = judged_with_purse()
    result = due_one(show)
    by_hand = DUE - timedelta(seconds=1)

    def hand() -> list[int]:
        release_result(result=result, by=office_of(show), at=by_hand)
        return []

    at_once([hand, *[work] * WORKERS])
    assert verbs(show).count("released") == 1
    assert Result.objects.released().get().released_at in (DUE, by_hand)


def test_taking_the_hour_back_at_its_stroke_either_comes_first_or_too_late():
    show = judged_with_purse()
    result = due_one(show)

    def take_back() -> list[int]:
        try:
            cancel_release_hour(result=result, by=office_of(show), at=DUE)
        except Conflict:
            return []
        return [0]

    told = at_once([take_back, *[work] * WORKERS])
    out = [one for one in told if one == [result.pk]]
    assert len(out) + told.count([0]) == 1
    assert Result.objects.released().exists() == bool(out)
    assert verbs(show).count("released") == len(out)
    assert verbs(show).count("cancelled the hour of release") == told.count([0])


def test_a_release_that_cannot_be_made_is_struck_once():
    show = judged_with_purse()
    due_one(show)
    change_marks(show, number=1, value=2, at=AT + timedelta(minutes=5))
    assert at_once([work] * WORKERS) == [[]] * WORKERS
    assert verbs(show).count(STOPPED) == 1
    assert not Result.objects.released().exists()
    assert Result.objects.get(show_class=class_of(show)).release_due_at is None


@pytest.mark.parametrize(
    "want", [want_papers, want_certificates, want_judge_reports], ids=lambda verb: verb.__name__
)
def test_papers_asked_for_by_many_at_once_are_wanted_once(want: Callable[..., Any]):
    show = judged_with_purse()
    for show_class in show.classes.all():
        released(show, code=show_class.code)
    office = office_of(show)
    told = at_once([lambda: want(show=show, by=office, at=DUE)] * WORKERS)
    ids = {frozenset(paper.pk for paper in papers) for papers in told}
    assert len(ids) == 1
    (wanted,) = ids
    assert wanted == set(Paper.objects.filter(show=show).values_list("pk", flat=True))
    assert AuditEntry.objects.filter(show=show, verb="wanted").count() == 1
