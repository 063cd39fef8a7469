"""The panel's rules, seats set by hand, what collides and what a mending changed, as pages."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

import pytest
from django.contrib.messages import get_messages
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from judging.actions.engage_judge import declare_conflict
from judging.models import Judge, PanelRules, Pause, Pin, Seat, Section
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show
from tests.judged_show import (
    AT,
    BEFORE,
    add_entries,
    add_judges,
    build_show,
    draw_panel,
    entry_of,
    judge_of,
    office_of,
    open_window,
    steward_of,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def show() -> Show:
    return build_show()


def as_person(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def read(show: Show, name: str = "panel") -> str:
    answer = as_person(office_of(show)).get(reverse(f"judging:{name}", args=[show.slug]))
    assert answer.status_code == 200
    return answer.content.decode()


def press(show: Show, name: str = "panel", person: Person | None = None, **fields: Any) -> Any:
    client = as_person(person or office_of(show))
    return client.post(reverse(f"judging:{name}", args=[show.slug]), fields)


def said(answer: Any) -> str:
    return " ".join(str(message) for message in get_messages(answer.wsgi_request))


def set_rules(show: Show, person: Person | None = None, **changed: Any) -> Any:
    typed = {"balance_by": "seats", "max_seats": "", **changed}
    return press(show, person=person, do="rules", **{f"rules-{k}": v for k, v in typed.items()})


def set_seat(show: Show, person: Person | None = None, **changed: Any) -> Any:
    typed = {
        "judge": judge_of(show, "J3").pk,
        "must": "yes",
        "entry": entry_of(show, 2).pk,
        "section": Section.objects.get(scorecard__show=show, code="harness").pk,
        "why": "Asked for by the harness committee.",
        **changed,
    }
    return press(show, person=person, do="pin", **{f"pin-{k}": v for k, v in typed.items()})


def test_a_steward_sets_nothing(show: Show) -> None:
    steward = steward_of(show)
    assert set_rules(show, steward).status_code == 403
    assert set_seat(show, steward).status_code == 403
    change = {"do": "change", "judge": judge_of(show).pk, "sections": ["harness"]}
    answer = press(show, "judges", steward, **change, seniority="senior")
    assert answer.status_code == 403
    assert not PanelRules.objects.exists()
    assert not Pin.objects.exists()
    assert judge_of(show).sections.count() == 3
    page = as_person(steward).get(reverse("judging:panel", args=[show.slug])).content.decode()
    assert "Rules of the panel" not in page


def test_rules_are_set_and_shown_as_set(show: Show) -> None:
    answer = set_rules(show, novices_beside_seniors="on", balance_by="minutes", max_seats="9")
    assert answer.status_code == 302
    assert "The rules are set" in said(answer)
    rules = PanelRules.objects.get(show=show)
    assert (rules.novices_beside_seniors, rules.balance_by, rules.max_seats) == (True, "minutes", 9)
    page = read(show)
    assert re.search(r'name="rules-novices_beside_seniors"[^>]* checked', page)
    assert '<option value="minutes" selected>' in page
    assert re.search(r'name="rules-max_seats" value="9"', page)
    assert set_rules(show).status_code == 302
    rules.refresh_from_db()
    assert (rules.novices_beside_seniors, rules.balance_by, rules.max_seats) == (
        False,
        "seats",
        None,
    )


@pytest.mark.parametrize(
    "changed", [{"max_seats": "0"}, {"max_seats": "x"}, {"balance_by": "hats"}]
)
def test_rules_with_faults_are_refused_and_kept_as_typed(show: Show, changed: Any) -> None:
    answer = set_rules(show, **changed)
    assert answer.status_code == 422
    assert "The rules are not set yet" in answer.content.decode()
    assert not PanelRules.objects.exists()


def test_a_seat_is_set_shown_drawn_and_freed(show: Show) -> None:
    answer = set_seat(show)
    assert answer.status_code == 302
    assert "must sit at 2. Nine Biscuit, Harness" in said(answer)
    page = read(show)
    assert "Asked for by the harness committee." in page
    assert press(show, do="draw", seed=3).status_code == 302
    seats = Seat.objects.filter(judge=judge_of(show, "J3"), entry=entry_of(show, 2))
    assert seats.filter(section__code="harness").exists()
    answer = press(show, do="unpin", pin=Pin.objects.get().pk)
    assert "Free again" in said(answer)
    assert not Pin.objects.exists()
    assert press(show, do="unpin", pin="12x").status_code == 404


@pytest.mark.parametrize(
    "changed", [{"judge": ""}, {"entry": "999999"}, {"why": " "}, {"must": ""}]
)
def test_a_seat_with_faults_is_refused(show: Show, changed: Any) -> None:
    answer = set_seat(show, **changed)
    assert answer.status_code == 422
    assert "The seat is not set yet" in answer.content.decode()
    assert not Pin.objects.exists()


def test_another_shows_seat_is_not_freed_here(show: Show) -> None:
    set_seat(show)
    other = build_show(slug="elsewhere")
    answer = press(other, do="unpin", pin=Pin.objects.get().pk)
    assert answer.status_code == 404
    assert Pin.objects.count() == 1


def test_a_pin_set_after_the_draw_says_that_the_panel_is_out_of_date(show: Show) -> None:
    draw_panel(show)
    seat = Seat.objects.filter(judge=judge_of(show, "J1")).select_related("entry", "section")[0]
    set_seat(
        show,
        judge=seat.judge_id,
        entry=seat.entry_id,
        section=seat.section_id,
        must="no",
    )
    page = read(show)
    assert "The panel is out of date" in page
    assert f"must not sit at {seat.entry}, {seat.section.name}, and does." in page
    press(show, do="mend", reason="The committee asked.")
    assert "out of date" not in read(show)
    assert not Seat.objects.filter(pk=seat.pk).exists()


# --- What collides -------------------------------------------------------------------------


def collision(answer: Any) -> str:
    assert answer.status_code == 409
    page = answer.content.decode()
    assert "Traceback" not in page
    assert "The panel cannot be drawn like this" in page
    found = re.search(r"<h2>What collides</h2>(.*?)</div>", page, re.S)
    assert found
    assert not Seat.objects.exists()
    return re.sub(r"\s+", " ", found[1])


def test_a_section_nobody_may_judge_is_named_with_who_could(show: Show) -> None:
    for judge in Judge.objects.filter(show=show):
        judge.sections.remove(judge.sections.get(code="harness"))
    told = collision(press(show, do="draw", seed=1))
    assert "In Harness each wagon is looked at by 2 judges." in told
    assert "and Mateo Villasenor are not engaged for Harness." in told
    assert "Engage 2 more senior judges for Harness." in told


def test_a_pin_against_a_conflict_is_told_with_its_way_out(show: Show) -> None:
    set_seat(show, judge=judge_of(show, "J2").pk, entry=entry_of(show, 1).pk)
    told = collision(press(show, do="draw", seed=1))
    assert "Ingrid Lindqvist is in conflict with wagon 1." in told
    assert "seat at wagon 1, Harness, be free." in told
    assert "Engage" not in told


def test_judges_away_all_day_are_told(show: Show) -> None:
    for code in ("J1", "J2", "J3"):
        Pause.objects.create(
            show=show,
            judge=judge_of(show, code),
            starts_at=show.judging_starts_at,
            ends_at=show.judging_starts_at + timedelta(hours=9),
            why="Another show.",
        )
    told = collision(press(show, do="draw", seed=1))
    assert "is there for 0 minutes of judging." in told
    assert "Engage 1 more senior judge for" in told


def test_collisions_that_take_two_changes_say_so(show: Show) -> None:
    for number in (1, 2):
        set_seat(show, judge=judge_of(show, "J2").pk, entry=entry_of(show, number).pk)
    declare_conflict(
        judge=judge_of(show, "J2"),
        entry=entry_of(show, 2),
        kind="kin",
        reason="",
        by=office_of(show),
        at=BEFORE,
    )
    assert "No single change of these is enough" in collision(press(show, do="draw", seed=1))


def test_nobody_engaged_and_nobody_entered_is_a_sentence() -> None:
    empty = build_show(slug="nobody", n_judges=0, n_entries=0)
    answer = press(empty, do="draw", seed=1)
    assert answer.status_code == 409
    assert "A panel needs confirmed entries and engaged judges." in answer.content.decode()


# --- Mending -------------------------------------------------------------------------------


def test_what_a_mending_changed_is_shown_place_by_place(show: Show) -> None:
    draw_panel(show)
    assert "What the last mending changed" not in read(show)
    seat = Seat.objects.filter(judge=judge_of(show, "J4")).select_related("entry", "section")[0]
    declare_conflict(
        judge=seat.judge,
        entry=seat.entry,
        kind="guest",
        reason="",
        by=office_of(show),
        at=BEFORE,
    )
    press(show, do="mend", reason="J4 stayed with them.")
    page = read(show)
    table = re.search(r"What the last mending changed</h2>(.*?)</table>", page, re.S)
    assert table
    assert "J4 stayed with them." in table[1]
    row = re.search(
        rf'{seat.entry}</th><td data-label="Section">{seat.section}(.*?)</tr>', table[1]
    )
    assert row
    assert '<td data-label="Left">J4</td>' in row[1]
    assert re.search(r'<td data-label="Came">J[123]</td>', row[1])
    draw_panel(show, seed=2)
    assert "What the last mending changed" not in read(show)


# --- Judges --------------------------------------------------------------------------------


def test_what_a_judge_may_judge_is_changed_on_the_judges_page(show: Show) -> None:
    judge = judge_of(show, "J3")
    answer = press(
        show,
        "judges",
        do="change",
        judge=judge.pk,
        sections=["harness", "camp_kit"],
        seniority="senior",
        max_seats="4",
    )
    assert answer.status_code == 302
    assert "is changed" in said(answer)
    judge.refresh_from_db()
    assert (judge.seniority, judge.max_seats, judge.sections.count()) == ("senior", 4, 2)
    page = read(show, "judges")
    assert '<td class="num" data-label="Most seats">4</td>' in page
    assert page.count('name="sections" value="harness" checked') == 4
    assert page.count('name="sections" value="running_gear" checked') == 3


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"sections": ["harness"], "max_seats": "-1"}, "whole number"),
        ({"sections": ["harness"], "max_seats": "9" * 30}, "whole number"),
        ({"sections": []}, "at least one section"),
        ({"sections": ["harness"], "seniority": "royal"}, "no seniority"),
    ],
)
def test_a_change_with_faults_is_refused(show: Show, fields: dict[str, Any], words: str) -> None:
    typed = {"seniority": "novice", "max_seats": "", **fields}
    answer = press(show, "judges", do="change", judge=judge_of(show, "J3").pk, **typed)
    assert words in said(answer)
    assert judge_of(show, "J3").sections.count() == 3
    assert press(show, "judges", do="change", judge=999999, **typed).status_code == 404


def test_a_judge_not_engaged_any_more_for_a_seat_is_told(show: Show) -> None:
    draw_panel(show)
    press(
        show,
        "judges",
        do="change",
        judge=judge_of(show, "J1").pk,
        sections=["harness"],
        seniority="senior",
        max_seats="",
    )
    assert "sits in Camp kit and is not engaged for it." in read(show)
    press(show, do="mend", reason="J1 judges harness alone.")
    assert "out of date" not in read(show)


# --- Closed, and large ---------------------------------------------------------------------


def test_published_times_close_the_forms(show: Show) -> None:
    set_seat(show)
    open_window(show)
    page = read(show)
    assert "Set a seat by hand" not in page
    assert "Asked for by the harness committee." in page
    for answer in (set_rules(show, max_seats="9"), set_seat(show, entry=entry_of(show, 3).pk)):
        assert answer.status_code == 409
        assert "window is published" in answer.content.decode()
        assert "That is not set" in answer.content.decode()
    answer = press(show, do="unpin", pin=Pin.objects.get().pk)
    assert answer.status_code == 409
    assert Pin.objects.count() == 1


def test_queries_do_not_grow_with_the_show(show: Show) -> None:
    def queries(name: str) -> int:
        client = as_person(office_of(show))
        with CaptureQueriesContext(connection) as asked:
            assert client.get(reverse(f"judging:{name}", args=[show.slug])).status_code == 200
        return len(asked)

    set_seat(show)
    draw_panel(show)
    Pause.objects.create(
        show=show, judge=judge_of(show), starts_at=AT, ends_at=AT + timedelta(minutes=9), why="x"
    )
    press(show, do="mend", reason="Nothing changed.")
    few = {name: queries(name) for name in ("panel", "judges")}
    add_entries(show, 7)
    add_judges(show, 2)
    draw_panel(show, seed=2)
    for number in (4, 5, 6):
        set_seat(show, judge=judge_of(show, f"J{number}").pk, entry=entry_of(show, number).pk)
    press(show, do="mend", reason="Three seats set by hand.")
    assert {name: queries(name) for name in few} == few


def test_another_draw_of_the_show_is_not_taken_for_the_panels(show: Show) -> None:
    press(show, do="draw", seed=7)
    record_change(show=show, actor=office_of(show), at=AT, verb="drew", subject="the food tables")
    assert "with seed 7" in read(show)
