"""What the office asks of the panel is kept by the draw, recorded, and closed with the times."""

from __future__ import annotations

from collections import Counter
from datetime import timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from entries.models import Entry
from judging.actions.engage_judge import change_judge, judge_leaves
from judging.actions.panel_rules import pin, set_panel_rules, unpin
from judging.actions.seat_panel import seat_panel
from judging.models import Judge, PanelRules, Pause, Pin, Seat, Section
from judging.queries.panel_task import explain_panel, minutes_there, panel_rules, panel_task
from showrun.errors import Conflict, InvalidInput
from showrun.shows.models import AuditEntry, Show
from tests.judged_show import (
    AT,
    BEFORE,
    add_judges,
    build_show,
    draw_panel,
    entry_of,
    judge_of,
    office_of,
    open_window,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def show() -> Show:
    return build_show()


def set_rules(show: Show, **changed: Any) -> PanelRules:
    given = {"novices_beside_seniors": False, "balance_by": "seats", "max_seats": None, **changed}
    return set_panel_rules(show=show, **given, by=office_of(show), at=BEFORE)


def section_of(show: Show, code: str) -> Section:
    return Section.objects.get(scorecard__show=show, code=code)


def set_seat(show: Show, code: str, number: int, section: str | None = None, **more: Any) -> Pin:
    given: dict[str, Any] = {"must": True, "why": "Asked for by the committee.", **more}
    return pin(
        show=show,
        judge=judge_of(show, code),
        entry=entry_of(show, number),
        section=section_of(show, section) if section else None,
        **given,
        by=office_of(show),
        at=BEFORE,
    )


def change(show: Show, code: str, **changed: Any) -> Judge:
    judge = judge_of(show, code)
    given = {
        "sections": [section.code for section in judge.sections.all()],
        "seniority": judge.seniority,
        "max_seats": judge.max_seats,
        **changed,
    }
    return change_judge(judge=judge, **given, by=office_of(show), at=BEFORE)


def loads(show: Show) -> Counter[str]:
    return Counter(Seat.objects.filter(judge__show=show).values_list("judge__code", flat=True))


def sits(show: Show, code: str, number: int) -> set[str]:
    seats = Seat.objects.filter(judge=judge_of(show, code), entry=entry_of(show, number))
    return set(seats.values_list("section__code", flat=True))


def away(show: Show, code: str, start: int, minutes: int) -> None:
    begins = show.judging_starts_at + timedelta(minutes=start)
    ends = begins + timedelta(minutes=minutes)
    Pause.objects.create(
        show=show, judge=judge_of(show, code), starts_at=begins, ends_at=ends, why="Drives a team."
    )


# --- Rules ---------------------------------------------------------------------------------


def test_without_rules_the_panel_is_drawn_as_ever(show: Show) -> None:
    assert not PanelRules.objects.exists()
    assert panel_rules(show).balance_by == "seats"
    assert not panel_task(show).task.novices_beside_seniors
    drawn = draw_panel(show)
    assert sorted(drawn.loads.values()) == [7, 7, 8, 8]


def test_novices_sit_only_beside_a_senior_once_the_rule_is_set(show: Show) -> None:
    for code in ("J2", "J4"):
        change(show, code, seniority="novice")
    set_rules(show, novices_beside_seniors=True)
    draw_panel(show)
    for place in Seat.objects.values("entry", "section").distinct():
        there = Seat.objects.filter(**place).values_list("judge__seniority", flat=True)
        assert "senior" in list(there)
    assert loads(show)["J1"] == 15  # the one senior sits everywhere
    line = AuditEntry.objects.get(show=show, subject="the panel's rules")
    assert line.before["novices_beside_seniors"] is False
    assert line.after == {"novices_beside_seniors": True, "balance_by": "seats", "max_seats": None}


def test_limits_of_all_and_of_one_judge_are_kept(show: Show) -> None:
    set_rules(show, max_seats=9)
    change(show, "J1", max_seats=3)
    draw_panel(show)
    assert loads(show) == {"J1": 3, "J2": 9, "J3": 9, "J4": 9}
    change(show, "J2", max_seats=8)
    with pytest.raises(Conflict, match="1 look short"):
        draw_panel(show)
    collision = explain_panel(show)
    assert collision is not None
    assert "Raise Chidi Abara's limit to 4 seats." in [r.sentence for r in collision.releases]
    assert loads(show)["J2"] == 9  # the panel that stood still stands


def test_loads_are_made_equal_in_minutes(show: Show) -> None:
    set_rules(show, balance_by="minutes")
    draw_panel(show)
    minutes: Counter[str] = Counter()
    for code, each in Seat.objects.values_list("judge__code", "section__minutes"):
        minutes[code] += each
    assert sum(minutes.values()) == 120
    assert set(minutes.values()) == {30}
    drew = AuditEntry.objects.get(show=show, verb="drew")
    assert (drew.after["balance_by"], drew.after["most_equal"]) == ("minutes", True)


def test_rules_that_make_no_sense_are_refused(show: Show) -> None:
    for changed, field in (({"balance_by": "hats"}, "balance_by"), ({"max_seats": 0}, "max_seats")):
        with pytest.raises(InvalidInput) as caught:
            set_rules(show, **changed)
        assert field in caught.value.fields
    assert not PanelRules.objects.exists()


# --- Who is there --------------------------------------------------------------------------


def test_a_judge_away_for_a_part_of_the_window_gets_no_more_than_the_rest(show: Show) -> None:
    assert minutes_there(show) == {}
    away(show, "J1", -60, 200)  # 140 minutes of the 300
    away(show, "J1", 100, 190)  # 100 to 290: 150 more, 40 of them told already
    assert minutes_there(show) == {judge_of(show, "J1").pk: 10}
    draw_panel(show)
    spent = sum(
        Seat.objects.filter(judge=judge_of(show, "J1")).values_list("section__minutes", flat=True)
    )
    assert 0 < spent <= 10


def test_a_judge_away_all_day_gets_nothing(show: Show) -> None:
    away(show, "J3", -30, 400)
    draw_panel(show)
    assert loads(show)["J3"] == 0
    assert sum(loads(show).values()) == 30


def test_a_pause_outside_the_window_and_one_of_everybody_change_nothing(show: Show) -> None:
    away(show, "J1", -120, 60)
    away(show, "J1", 300, 60)
    Pause.objects.create(
        show=show,
        starts_at=show.judging_starts_at,
        ends_at=show.judging_starts_at + timedelta(minutes=30),
        why="Cooks' meeting.",
    )
    assert minutes_there(show) == {}


# --- Seats set by hand ---------------------------------------------------------------------


def test_pins_are_drawn_recorded_and_freed(show: Show) -> None:
    set_seat(show, "J3", 2, "harness")
    set_seat(show, "J4", 2)
    kept_off = set_seat(show, "J1", 3, must=False)
    for seed in range(4):
        draw_panel(show, seed=seed)
        assert "harness" in sits(show, "J3", 2)
        assert len(sits(show, "J4", 2)) == 3
        assert not sits(show, "J1", 3)
    assert AuditEntry.objects.filter(show=show, verb="set by hand").count() == 3
    unpin(pin=kept_off, by=office_of(show), at=BEFORE)
    freed = AuditEntry.objects.get(show=show, verb="freed")
    assert "must not sit at" in freed.subject
    assert any(draw_panel(show, seed=seed) and sits(show, "J1", 3) for seed in range(6))


def test_a_pin_against_a_conflict_refuses_the_draw_and_says_both(show: Show) -> None:
    set_seat(show, "J2", 1)
    with pytest.raises(Conflict, match=r"Lindqvist must sit at wagon 1.*in conflict with it"):
        draw_panel(show)
    collision = explain_panel(show)
    assert collision is not None
    assert collision.lines == (
        "Ingrid Lindqvist is in conflict with wagon 1.",
        "Ingrid Lindqvist must sit at wagon 1, every section.",
    )


@pytest.mark.parametrize(
    ("changed", "words"),
    [({"why": " "}, "one sentence why"), ({"why": "x" * 201}, "one sentence why")],
)
def test_a_pin_needs_a_reason(show: Show, changed: dict[str, str], words: str) -> None:
    with pytest.raises(InvalidInput, match=words):
        set_seat(show, "J1", 2, **changed)
    assert not Pin.objects.exists()


def test_pins_that_cannot_be_meant_are_refused(show: Show) -> None:
    change(show, "J1", sections=["harness"])
    with pytest.raises(InvalidInput, match="not engaged for Camp kit"):
        set_seat(show, "J1", 2, "camp_kit")
    set_seat(show, "J1", 2, "camp_kit", must=False)
    with pytest.raises(Conflict, match="set already"):
        set_seat(show, "J1", 2, "camp_kit", must=False)
    other = build_show(slug="elsewhere", n_entries=1)
    with pytest.raises(InvalidInput, match="another show"):
        pin(
            show=show,
            judge=judge_of(show, "J1"),
            entry=entry_of(other, 1),
            section=None,
            must=True,
            why="Mistyped.",
            by=office_of(show),
            at=BEFORE,
        )
    judge_leaves(judge=judge_of(show, "J4"), reason="heat", by=office_of(show), at=BEFORE)
    with pytest.raises(InvalidInput, match="has left"):
        set_seat(show, "J4", 2)


def test_the_same_seat_is_set_once_whoever_writes(show: Show) -> None:
    for section in (None, section_of(show, "harness")):
        row: dict[str, Any] = {
            "show": show,
            "judge": judge_of(show, "J1"),
            "entry": Entry.objects.get(show=show, number=2),
            "section": section,
        }
        Pin.objects.create(**row, must=True, why="once")
        with pytest.raises(IntegrityError), transaction.atomic():
            Pin.objects.create(**row, must=False, why="twice")


def test_a_pin_of_a_judge_who_left_stands_in_nobodys_way(show: Show) -> None:
    add_judges(show, 1)
    set_seat(show, "J5", 2)
    judge_leaves(judge=judge_of(show, "J5"), reason="heat", by=office_of(show), at=BEFORE)
    draw_panel(show)
    assert loads(show)["J5"] == 0


# --- Judges --------------------------------------------------------------------------------


def test_a_judge_is_changed_after_engaging(show: Show) -> None:
    change(show, "J3", sections=["harness"], seniority="senior", max_seats=4)
    draw_panel(show)
    sections = Seat.objects.filter(judge=judge_of(show, "J3")).values_list("section__code")
    assert set(sections) == {("harness",)}
    assert loads(show)["J3"] == 4
    line = AuditEntry.objects.get(show=show, verb="changed")
    assert line.before["seniority"] == "novice"
    assert line.after == {"sections": ["harness"], "seniority": "senior", "max_seats": 4}


@pytest.mark.parametrize(
    "changed",
    [{"sections": []}, {"sections": ["hats"]}, {"seniority": "royal"}, {"max_seats": -1}],
)
def test_a_change_that_makes_no_sense_is_refused(show: Show, changed: dict[str, Any]) -> None:
    with pytest.raises(InvalidInput):
        change(show, "J3", **changed)
    assert judge_of(show, "J3").seniority == "novice"
    assert judge_of(show, "J3").sections.count() == 3


def test_a_judge_who_left_is_not_changed(show: Show) -> None:
    judge_leaves(judge=judge_of(show, "J3"), reason="heat", by=office_of(show), at=AT)
    with pytest.raises(Conflict, match="has left"):
        change(show, "J3", max_seats=1)


# --- Closed --------------------------------------------------------------------------------


def test_published_times_close_rules_and_pins(show: Show) -> None:
    row = set_seat(show, "J3", 2, "harness")
    open_window(show)
    with pytest.raises(Conflict, match="published"):
        set_rules(show, max_seats=9)
    with pytest.raises(Conflict, match="published"):
        set_seat(show, "J4", 3)
    with pytest.raises(Conflict, match="published"):
        unpin(pin=row, by=office_of(show), at=AT)
    assert list(Pin.objects.all()) == [row]
    with pytest.raises(Conflict, match="published"):
        seat_panel(show=show, seed=1, by=office_of(show), at=AT)
