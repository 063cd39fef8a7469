"""Announced times change in one place: revisions, what was called off, what was told."""

from __future__ import annotations

from datetime import timedelta

import pytest

from judging.actions.announce import change_times
from judging.actions.open_window import withdraw_window
from judging.models import Announcement, CalledOffVisit, Visit, Window
from judging.queries.announcements import changed_times, told_of_entry
from showrun.errors import Conflict, InvalidInput, NotYet
from showrun.shows.models import AuditEntry
from tests.judged_show import AT, build_show, judge_of, office_of, open_window
from tests.remembered import remembered

pytestmark = pytest.mark.django_db

LATER = timedelta(minutes=17)


@pytest.fixture
@remembered
def show():
    show = build_show()
    open_window(show)
    return show


def rows():
    return {(v.judge_id, v.entry_id): v for v in Visit.objects.all()}


def change(show, times, called_off=(), reason="J1 was held up"):
    return change_times(
        show=show, times=times, called_off=called_off, reason=reason, by=office_of(show), at=AT
    )


def later(visit):
    return visit.starts_at + LATER, visit.ends_at + LATER


def test_the_first_publication_is_announcement_one_with_every_visit(show):
    told = Announcement.objects.get()
    assert told.number == 1
    assert {(line["judge"], line["entry"]) for line in told.changes} == set(rows())
    assert all(line["was"] is None for line in told.changes)
    assert set(Visit.objects.values_list("revision", flat=True)) == {0}
    assert changed_times(judge_of(show, "J1")) == []


def test_only_what_changed_is_written_and_told(show):
    before = rows()
    pair, visit = next(iter(before.items()))
    same = {key: (v.starts_at, v.ends_at) for key, v in before.items()}
    told = change(show, {**same, pair: later(visit)})
    assert told.number == 2
    (line,) = told.changes
    assert (line["judge"], line["entry"]) == pair
    assert line["was"] == [visit.starts_at.isoformat(), visit.ends_at.isoformat()]
    assert line["now"] == [moment.isoformat() for moment in later(visit)]
    after = rows()
    assert after[pair].pk == visit.pk
    assert (after[pair].starts_at, after[pair].revision, after[pair].changed_at) == (
        later(visit)[0], 1, AT,
    )  # fmt: skip
    for key in set(before) - {pair}:
        assert (after[key].starts_at, after[key].revision) == (before[key].starts_at, 0)
    said = AuditEntry.objects.get(verb="announced")
    assert said.reason == "J1 was held up"


def test_a_visit_called_off_is_kept_apart_and_counts_on_when_it_comes_back(show):
    pair, visit = next(iter(rows().items()))
    change(show, {}, called_off=[pair])
    assert pair not in rows()
    gone = CalledOffVisit.objects.get()
    assert (gone.judge_id, gone.entry_id) == pair
    assert (gone.revision, gone.starts_at) == (1, visit.starts_at)
    change(show, {pair: later(visit)}, reason="it takes place after all")
    assert not CalledOffVisit.objects.exists()
    assert rows()[pair].revision == 2
    assert [a.number for a in Announcement.objects.all()] == [3, 2, 1]


def test_the_windows_figures_follow(show):
    last = max(rows().items(), key=lambda item: item[1].ends_at)
    before = Window.objects.get()
    change(show, {last[0]: later(last[1])})
    window = Window.objects.get()
    assert window.needed_minutes == before.needed_minutes + 17
    assert (window.proven, window.likely_minutes, window.chance) == (False, None, None)
    assert str(window.needed_minutes) in window.advice[0]


def test_what_makes_no_sense_is_refused_and_changes_nothing(show):
    pair, visit = next(iter(rows().items()))
    with pytest.raises(Conflict, match="No announced time"):
        change(show, {pair: (visit.starts_at, visit.ends_at)})
    with pytest.raises(InvalidInput, match="why"):
        change(show, {pair: later(visit)}, reason="  ")
    with pytest.raises(InvalidInput, match="ends after"):
        change(show, {pair: (visit.ends_at, visit.starts_at)})
    with pytest.raises(InvalidInput, match="called off"):
        change(show, {pair: later(visit)}, called_off=[pair])
    assert Announcement.objects.count() == 1
    assert rows()[pair].revision == 0


def test_times_that_are_not_published_are_not_changed(show):
    pair, visit = next(iter(rows().items()))
    Window.objects.update(published_at=None)
    with pytest.raises(NotYet):
        change(show, {pair: later(visit)})


def test_a_window_published_anew_counts_on(show):
    pair, visit = next(iter(rows().items()))
    change(show, {}, called_off=[pair])
    withdraw_window(show=show, reason="storm", by=office_of(show), at=AT)
    open_window(show)
    assert [told.number for told in Announcement.objects.all()] == [3, 2, 1]
    assert set(Visit.objects.values_list("revision", flat=True)) == {2}
    assert not CalledOffVisit.objects.exists()


def test_phone_and_exhibitor_are_told_their_own_changes_with_the_reason(show):
    pair, visit = next(iter(rows().items()))
    change(show, {pair: later(visit)})
    judge = visit.judge
    (told,) = changed_times(judge)
    assert (told["number"], told["reason"]) == (2, "J1 was held up")
    assert [line["entry"] for line in told["changes"]] == [pair[1]]
    others = [other for other in show_judges(show) if other.pk != judge.pk]
    assert all(changed_times(other) == [] for other in others)
    by_judge, newest = told_of_entry(visit.entry)
    assert by_judge.keys() == {judge.pk}
    assert newest is not None
    assert (newest.at, newest.reason) == (AT, "J1 was held up")


def show_judges(show):
    return [judge_of(show, f"J{n}") for n in range(1, 5)]
