"""The temperature log is added to and never edited; figures are the show's own."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from judging.actions.food_temperatures import log_temperature, set_food_figures
from judging.models import FoodFigures, TemperatureReading
from judging.queries.food import food_book
from showrun.errors import Conflict, InvalidInput
from showrun.shows.models import AuditEntry, Show
from tests.judged_show import AT, build_show, entry_of, office_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def show() -> Show:
    return build_show(n_entries=2, n_judges=1)


def log(show: Show, **more: Any) -> TemperatureReading:
    given = {"figure": "hot_holding", "food": "Beans", "reading_f": Decimal("128")}
    return log_temperature(show=show, **{**given, "by": office_of(show), "at": AT, **more})


def set_figures(
    show: Show, edition: str = "Food Code, 2022 edition", **figures: int
) -> FoodFigures:
    return set_food_figures(
        show=show, edition=edition, authority="Tri-Creek County", by=office_of(show), at=AT,
        figures={code: Decimal(degrees) for code, degrees in figures.items()},
    )  # fmt: skip


def test_a_line_keeps_the_figure_and_edition_it_was_judged_by(show: Show):
    line = log(show, entry=entry_of(show, 1))
    assert (line.act_now, int(line.limit_f), line.edition) == (True, 135, "Food Code, 2022 edition")
    set_figures(show, edition="County code 7", hot_holding=120)
    line = TemperatureReading.objects.get(pk=line.pk)
    assert (line.act_now, int(line.limit_f), line.edition) == (True, 135, "Food Code, 2022 edition")
    newer = log(show)
    assert (newer.act_now, int(newer.limit_f), newer.edition) == (False, 120, "County code 7")


def test_a_line_is_never_edited_or_removed(show: Show):
    line = log(show)
    line.food = "Meat"
    with pytest.raises(TypeError, match="never edited"):
        line.save()
    with pytest.raises(TypeError, match="never removed"):
        line.delete()


def test_a_correction_is_a_new_line_with_a_reason_once(show: Show):
    wrong = log(show)
    with pytest.raises(InvalidInput) as refused:
        log(show, corrects=wrong)
    assert set(refused.value.fields) == {"reason"}
    right = log(show, reading_f=Decimal("138"), corrects=wrong, reason="Read the wrong pot.")
    assert (right.corrects, right.act_now) == (wrong, False)
    assert TemperatureReading.objects.count() == 2
    with pytest.raises(Conflict, match="corrected already"):
        log(show, corrects=wrong, reason="Again.")
    other = build_show(slug="elsewhere", n_entries=1, n_judges=1)
    with pytest.raises(InvalidInput, match="another show"):
        log(other, corrects=right, reason="Not mine.")
    line = AuditEntry.objects.filter(show=show).first()
    assert line and (line.verb, line.before) == ("corrected", {"reading_f": "128.0"})


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"figure": "luke"}, "figure"),
        ({"food": " "}, "food"),
        ({"food": "b" * 81}, "food"),
        ({"reading_f": Decimal(751)}, "reading"),
    ],
)
def test_what_is_no_line_is_said_by_field(show: Show, wrong: dict[str, Any], field: str):
    with pytest.raises(InvalidInput) as refused:
        log(show, **wrong)
    assert set(refused.value.fields) == {field}
    assert not TemperatureReading.objects.exists()


def test_a_wagon_is_of_the_show(show: Show):
    other = build_show(slug="elsewhere", n_entries=1, n_judges=1)
    with pytest.raises(InvalidInput) as refused:
        log(show, entry=entry_of(other, 1))
    assert set(refused.value.fields) == {"entry"}


def test_figures_equal_to_the_default_are_not_changed_ones(show: Show):
    kept = set_figures(show, hot_holding=135, cold_holding=40)
    assert kept.changed == {"cold_holding": "40"}
    book = food_book(show)
    assert (int(book.figures["cold_holding"].limit_f), book.authority) == (40, "Tri-Creek County")
    assert book.changed == {"cold_holding"}
    set_figures(show, cold_holding=41)
    assert food_book(show).changed == frozenset()
    assert FoodFigures.objects.count() == 1
    line = AuditEntry.objects.filter(show=show).first()
    assert line and line.before["changed"] == {"cold_holding": "40"}


def test_figures_nobody_means_are_refused_by_field(show: Show):
    with pytest.raises(InvalidInput) as refused:
        set_figures(show, edition=" ", hot_holding=4000)
    assert set(refused.value.fields) == {"edition", "hot_holding"}
    assert not FoodFigures.objects.exists()
