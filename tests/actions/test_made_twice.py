"""Two requests at the same moment make the same: each looks before the other has written."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

import pytest
from django.db.models import Model, QuerySet

from judging.actions.engage_judge import engage_judge
from judging.models import Judge
from showrun.errors import Conflict
from showrun.shows.actions.plan_show import person_for, plan_show
from showrun.shows.models import Person, Show
from tests.judged_show import build_show, judge_of
from tests.people import PersonFactory

pytestmark = pytest.mark.django_db
AT = datetime(2027, 5, 15, 14, 0, tzinfo=UTC)


def look_too_early(
    monkeypatch: pytest.MonkeyPatch, model: type[Model], name: str, times: int
) -> None:
    """Let the first looks at a table see nothing, as before the other request has written."""
    real, looks = getattr(QuerySet, name), iter(range(times))

    def look(self: QuerySet[Any]) -> object:
        blind = self.model is model and next(looks, None) is not None
        return (None if name == "first" else False) if blind else real(self)

    monkeypatch.setattr(QuerySet, name, look)


def test_a_person_who_joins_with_a_double_tap_is_one_person(monkeypatch: pytest.MonkeyPatch):
    there = PersonFactory.create(email="ada@showrun.example")
    look_too_early(monkeypatch, Person, "first", 1)
    assert person_for(email="Ada@showrun.example", name="Ada") == there
    assert Person.objects.filter(email="ada@showrun.example").count() == 1


def test_a_show_planned_twice_at_once_is_refused_in_words(
    monkeypatch: pytest.MonkeyPatch, show: Show, office: Person
):
    look_too_early(monkeypatch, Show, "exists", 1)
    with pytest.raises(Conflict, match="There is a show at “lantern-draw” already"):
        plan_show(
            slug=show.slug, name="Twice", ground="Ground", starts_on=date(2027, 5, 15),
            ends_on=date(2027, 5, 16), judging_starts_at=AT, judging_minutes=60,
            zone="America/Denver", entry_cap=3, classes=[], office=office, at=AT,
        )  # fmt: skip
    assert Show.objects.count() == 1


def test_a_judge_engaged_twice_at_once_is_refused_in_words(monkeypatch: pytest.MonkeyPatch):
    show = build_show(n_entries=1, n_judges=1)
    judge = judge_of(show, "J1")
    sections = [section.code for section in judge.sections.all()]
    asked: dict[str, Any] = {"show": show, "sections": sections, "by": None, "at": AT}
    look_too_early(monkeypatch, Judge, "exists", 2)
    with pytest.raises(Conflict, match="judges at this show already"):
        engage_judge(person=judge.person, code="J9", **asked)
    look_too_early(monkeypatch, Judge, "exists", 2)
    with pytest.raises(Conflict, match="has the short name “J1”"):
        engage_judge(person=PersonFactory.create(), code="J1", **asked)
    assert Judge.objects.filter(show=show).count() == 1
