"""Seasons: points declared beforehand, classes of several shows, standings by released results."""

from __future__ import annotations

from datetime import timedelta

import pytest

from entries.models import Entry
from judging.actions.release_result import release_result
from judging.actions.seasons import add_class, change_season, make_season, remove_class
from judging.models import Placing, Result, Season
from judging.queries.seasons import season_table
from showrun.errors import Conflict, InvalidInput
from showrun.shows.models import AuditEntry, Show
from tests.judged_show import AT, build_show, class_of, entry_of, mark_everything, office_of
from tests.released_show import LATER, change_marks, released, signed
from tests.remembered import remembered

pytestmark = pytest.mark.django_db


@pytest.fixture
@remembered
def show() -> Show:
    show = build_show(n_entries=3, n_judges=3, judges_per_section=3, kin=False)
    mark_everything(show)
    return show


@pytest.fixture
def season(show) -> Season:
    season = make_season(
        show=show, name=" Lantern   Season 2027 ", points=["10", "7", "5.50"], best_of=None,
        by=office_of(show), at=AT,
    )  # fmt: skip
    add_class(season=season, show_class=class_of(show), by=office_of(show), at=AT)
    return season


def another_show(show: Show) -> Show:
    """A second show whose wagon 1 is of the first show's exhibitor of wagon 1."""
    other = build_show(slug="fall", n_entries=2, n_judges=3, judges_per_section=3, kin=False)
    mark_everything(other)
    Entry.objects.filter(show=other, number=1).update(exhibitor=entry_of(show, 1).exhibitor)
    return other


def change(season: Season, show: Show, **given):
    kept = {"name": season.name, "points": season.points, "best_of": season.best_of, "reason": ""}
    return change_season(season=season, by=office_of(show), at=LATER, **{**kept, **given})


def points(season: Season) -> dict[str, str]:
    return {line.person.name: line.total for line in season_table(season).lines}


def test_a_season_is_kept_as_declared_and_recorded(show, season):
    assert (season.slug, season.name) == ("lantern-season-2027", "Lantern Season 2027")
    assert season.points == ["10", "7", "5.50"]
    made = AuditEntry.objects.get(show=show, verb="made a season")
    assert (made.subject, made.actor) == ("season lantern-season-2027", office_of(show))
    assert AuditEntry.objects.get(verb="added a class to a season").after == {
        "class": "Trail wagon"
    }


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"name": "Lantern season 2027!"}, "name"),
        ({"name": " "}, "name"),
        ({"name": "!"}, "name"),
        ({"name": "x" * 121}, "name"),
        ({"points": ["5", "6"]}, "points"),
        ({"points": [""]}, "points"),
        ({"best_of": 0}, "best_of"),
    ],
)
def test_what_is_no_season_is_refused_at_its_field(show, season, given, field):
    declared = {"name": "Another", "points": ["1"], "best_of": 2, **given}
    with pytest.raises(InvalidInput) as refused:
        make_season(show=show, by=office_of(show), at=AT, **declared)
    assert list(refused.value.fields) == [field]


def test_only_released_results_count(show, season):
    result = signed(show)
    empty = season_table(season)
    assert (empty.lines, empty.as_of, empty.shows[0].out) == ([], None, [])
    release_result(result=result, by=office_of(show), at=LATER)
    table = season_table(season)
    assert table.as_of == LATER
    places = dict(
        Placing.objects.filter(result=result).values_list("entry__exhibitor__name", "place")
    )
    worth = {1: "10", 2: "7", 3: "5.5"}
    assert points(season) == {name: worth[place] for name, place in places.items()}


def test_a_correction_takes_the_place_of_what_it_corrects(show, season):
    result = released(show)
    last = result.placings.get(place=3).entry
    assert last.number
    for code in ("J1", "J2", "J3"):
        change_marks(show, number=last.number, value=10, judge=code, at=LATER)
    newer = signed(show, reason="Read again.", at=LATER)
    assert points(season)[last.exhibitor.name] == "5.5"
    release_result(result=newer, by=office_of(show), at=LATER)
    assert points(season)[last.exhibitor.name] == "10"


def test_the_best_shows_count_and_the_others_stand_dropped(show, season):
    other = another_show(show)
    add_class(season=season, show_class=class_of(other), by=office_of(other), at=AT)
    released(show)
    released(other, at=LATER)
    both = entry_of(show, 1).exhibitor
    place, place_there = (
        Placing.objects.get(result__show_class=class_of(one), entry__exhibitor=both).place
        for one in (show, other)
    )
    worth = {1: 10, 2: 7, 3: 5.5}
    mine = next(line for line in season_table(season).lines if line.person == both)
    assert float(mine.total) == worth[place] + worth[place_there]
    assert all(cell and cell.counts for cell, _ in mine.by_show)
    change(season, show, best_of=1, reason="Two shows are a long way apart.")
    table = season_table(Season.objects.get(pk=season.pk))
    mine = next(line for line in table.lines if line.person == both)
    assert float(mine.total) == max(worth[place], worth[place_there])
    assert sorted(cell.counts for cell, _ in mine.by_show if cell) == [False, True]
    # Somebody of one show only has nothing in the other's column.
    assert any(cell is None for line in table.lines for cell, _ in line.by_show)


def test_points_are_free_until_a_released_result_counts_and_then_need_a_reason(show, season):
    change(season, show, points=["9", "8"])
    assert season_table(season).changes == []
    released(show)
    season.refresh_from_db()
    with pytest.raises(InvalidInput) as refused:
        change(season, show, points=["20", "1"], reason=" ")
    assert list(refused.value.fields) == ["reason"]
    season.refresh_from_db()
    assert season.points == ["9", "8"]
    change(season, show, name="Another name")
    changed = change(season, show, points=["20", "1"], reason=" A misprint. ")
    (line,) = season_table(changed).changes
    assert (line.reason, line.before["points"], line.after["points"]) == (
        "A misprint.",
        ["9", "8"],
        ["20", "1"],
    )


def test_every_show_of_the_season_records_a_change_and_the_page_tells_it_once(show, season):
    other = another_show(show)
    add_class(season=season, show_class=class_of(other), by=office_of(other), at=AT)
    released(show)
    change(season, show, best_of=1, reason="So it was meant.")
    lines = AuditEntry.objects.filter(verb="changed the points of a season")
    assert {line.show for line in lines} == {show, other}
    assert len(season_table(season).changes) == 1


def test_a_class_counts_once_and_goes_with_a_reason(show, season):
    with pytest.raises(Conflict, match="counts in Lantern Season 2027 already"):
        add_class(season=season, show_class=class_of(show), by=office_of(show), at=AT)
    row = season.classes.get()
    with pytest.raises(InvalidInput):
        remove_class(row=row, reason=" ", by=office_of(show), at=AT)
    released(show)
    remove_class(row=row, reason="Entered by mistake.", by=office_of(show), at=AT)
    assert points(season) == {}
    assert AuditEntry.objects.get(verb="took a class out of a season").reason == (
        "Entered by mistake."
    )


def test_a_release_that_is_taken_over_by_a_later_version_is_not_counted_twice(show, season):
    released(show)
    change_marks(show, number=1, value=10, at=LATER)
    newer = signed(show, reason="Read again.", at=LATER)
    release_result(result=newer, by=office_of(show), at=LATER + timedelta(minutes=1))
    assert Result.objects.filter(released_at__isnull=False, show_class=class_of(show)).count() == 2
    assert sorted(map(float, points(season).values())) == [5.5, 7, 10]
