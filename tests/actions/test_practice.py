"""The practice wagon: made once, marked by every judge, in nobody's way."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db.models import QuerySet

from entries.actions.decide_entry import confirm_entry, put_on_wait_list, scratch_entry
from entries.models import Entry
from judging.actions.engage_judge import declare_conflict, judge_leaves
from judging.actions.mend_panel import mend_panel
from judging.actions.open_window import withdraw_window
from judging.actions.practice import close_practice
from judging.actions.seat_panel import seat_panel
from judging.models import CardMark, Judge, RoundEvent, Scorecard, Seat, Section
from judging.queries.practice import judging_begun
from judging.queries.progress import held_events
from showrun.errors import Conflict, InvalidInput, NotYet
from showrun.shows.models import AuditEntry, Show
from tests.judged_show import (
    AT,
    RIGS,
    SECTIONS,
    add_judges,
    build_show,
    clear,
    concern,
    draw_panel,
    entry_of,
    hand_in,
    judge_of,
    mark,
    office_of,
    open_window,
    rows_of,
    send,
)
from tests.people import ShowFactory
from tests.practice_wagon import NAME, PLANTED, give, phone_of, set_up

pytestmark = pytest.mark.django_db


@pytest.fixture
def show() -> Show:
    return build_show(n_entries=3)


def seats_at(wagon: Entry) -> set[tuple[str, str]]:
    return set(Seat.objects.filter(entry=wagon).values_list("judge__code", "section__code"))


def every_seat(*judges: str) -> set[tuple[str, str]]:
    return {(judge, section) for judge in judges for section in SECTIONS}


def close(show: Show) -> Entry:
    return close_practice(show=show, by=office_of(show), at=AT)


# --- Setting up -------------------------------------------------------------------------------


def wagon_seats(judge: Judge, wagon: Entry) -> QuerySet[Seat]:
    return Seat.objects.filter(judge=judge, entry=wagon)


def test_it_is_an_entry_of_no_class_with_every_judge_seated(show: Show):
    wagon = set_up(show)
    assert (wagon.status, wagon.number, wagon.spot, wagon.wagon_name) == (
        "practice",
        None,
        None,
        NAME,
    )
    assert wagon.rig.facts() == RIGS[0]
    assert not wagon.classes.exists()
    assert seats_at(wagon) == every_seat("J1", "J2", "J3", "J4")
    own = wagon_seats(judge_of(show), wagon).values_list("section__code", flat=True)
    assert set(own) == set(SECTIONS)
    line = AuditEntry.objects.filter(show=show, subject="the practice wagon").get()
    assert (line.verb, line.actor, line.after["planted"]) == ("set up", office_of(show), PLANTED)


def test_it_needs_a_card_and_a_judge():
    bare = ShowFactory.create(slug="three-kettles")
    person = office_of(build_show(slug="elsewhere", n_entries=0, n_judges=0))
    with pytest.raises(NotYet, match="no scorecard"):
        set_up(bare, by=person)
    alone = build_show(slug="alone", n_entries=0, n_judges=0)
    with pytest.raises(NotYet, match="Engage a judge"):
        set_up(alone)
    assert not Entry.objects.filter(status="practice").exists()


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"wagon_name": "  "}, "wagon_name"),
        ({"wagon_name": "W" * 81}, "wagon_name"),
        ({"rig": {**RIGS[0], "hitch": "nine_up"}}, "hitch"),
        ({"planted": "x" * 2001}, "planted"),
    ],
)
def test_what_is_typed_wrong_is_named(show: Show, typed: dict[str, Any], field: str):
    with pytest.raises(InvalidInput) as refused:
        set_up(show, **typed)
    assert list(refused.value.fields) == [field]
    assert not Entry.objects.filter(status="practice").exists()


def test_a_second_call_changes_the_one_wagon(show: Show):
    first = set_up(show)
    again = set_up(show, wagon_name="Other wagon", rig=RIGS[3], planted="")
    assert again.pk == first.pk
    assert Entry.objects.filter(show=show, status="practice").count() == 1
    assert (again.wagon_name, again.rig.facts(), again.history) == ("Other wagon", RIGS[3], "")
    line = AuditEntry.objects.filter(show=show, verb="changed").get()
    assert line.before["wagon_name"] == NAME
    assert line.after["wagon_name"] == "Other wagon"


def test_once_marked_its_name_and_rig_stay_and_the_planted_faults_may_change(show: Show):
    wagon = set_up(show)
    give(judge_of(show), wagon, {"rg_wheels": 7}, done=False)
    for more in ({"wagon_name": "Other wagon"}, {"rig": RIGS[3]}):
        with pytest.raises(Conflict, match="name and rig stay"):
            set_up(show, **more)
    set_up(show, planted="Something else")
    wagon.refresh_from_db()
    assert (wagon.wagon_name, wagon.history) == (NAME, "Something else")
    send(phone_of(judge_of(show)), [clear(wagon, "rg_wheels")])
    assert set_up(show, rig=RIGS[3]).rig.facts() == RIGS[3]


def test_a_section_of_places_is_not_asked_of_a_wagon_alone(show: Show):
    Section.objects.filter(scorecard__show=show, code="camp_kit").update(form="placings")
    assert {section for _, section in seats_at(set_up(show))} == {"running_gear", "harness"}


# --- Closing and opening again ----------------------------------------------------------------


def test_closed_it_has_no_seats_and_keeps_its_marks(show: Show):
    wagon = set_up(show)
    give(judge_of(show), wagon, 6)
    close(show)
    assert not wagon_seats(judge_of(show), wagon).exists()
    assert seats_at(wagon) == set()
    assert CardMark.objects.filter(card__entry=wagon, value=6).count() == 8
    with pytest.raises(Conflict, match="closed already"):
        close(show)
    set_up(show)
    assert seats_at(wagon) == every_seat("J1", "J2", "J3", "J4")
    assert CardMark.objects.filter(card__entry=wagon, value=6).count() == 8
    verbs = AuditEntry.objects.filter(show=show, subject="the practice wagon").order_by("pk")
    assert list(verbs.values_list("verb", flat=True)) == ["set up", "closed", "opened"]


def test_there_must_be_one_to_close(show: Show):
    with pytest.raises(NotYet, match="no practice wagon"):
        close(show)


def test_touches_that_come_after_closing_wait_for_nobody_but_a_concern_does(show: Show):
    wagon = set_up(show)
    close(show)
    phone = phone_of(judge_of(show))
    late = [mark(wagon, "rg_wheels", 7), hand_in(wagon), concern(wagon, "stop", "bridle torn")]
    assert [outcome.status for outcome in send(phone, late)] == ["held"] * 3
    assert RoundEvent.objects.filter(show=show, applied=False).count() == 3
    assert [event.body["kind"] for event in held_events(show)] == ["concern"]


def test_touches_held_at_other_wagons_still_wait(show: Show):
    set_up(show)
    draw_panel(show)
    send(phone_of(judge_of(show)), [mark(entry_of(show), "no_such_row", 7)])
    assert len(held_events(show)) == 1


# --- Judges come and go -----------------------------------------------------------------------


def test_a_judge_engaged_later_sits_at_it_while_it_is_open(show: Show):
    wagon = set_up(show)
    add_judges(show, 1, sections=["harness"])
    assert seats_at(wagon) == {*every_seat("J1", "J2", "J3", "J4"), ("J5", "harness")}
    close(show)
    add_judges(show, 1)
    assert seats_at(wagon) == set()
    set_up(show)
    assert {judge for judge, _ in seats_at(wagon)} == {"J1", "J2", "J3", "J4", "J5", "J6"}


def test_a_judge_who_left_is_not_seated_again(show: Show):
    wagon = set_up(show)
    judge_leaves(judge=judge_of(show, "J4"), reason="ill", by=office_of(show), at=AT)
    close(show)
    set_up(show)
    assert seats_at(wagon) == every_seat("J1", "J2", "J3")


def test_setting_up_again_follows_the_judges_sections(show: Show):
    wagon = set_up(show)
    judge_of(show).sections.remove(Section.objects.get(scorecard__show=show, code="harness"))
    set_up(show)
    assert ("J1", "harness") not in seats_at(wagon)
    assert len(seats_at(wagon)) == 11


def test_nothing_bars_a_judge_from_it(show: Show):
    wagon = set_up(show)
    with pytest.raises(InvalidInput, match="practice wagon"):
        declare_conflict(
            judge=judge_of(show), entry=wagon, kind="kin", reason="", by=office_of(show), at=AT
        )


# --- The show goes on as if it were not there -------------------------------------------------


def test_practice_marks_do_not_begin_the_judging(show: Show):
    wagon = set_up(show)
    draw_panel(show)
    open_window(show)
    give(judge_of(show), wagon, 6)
    assert Scorecard.objects.get(show=show).frozen_at  # the card itself is marked on
    assert not judging_begun(show)
    withdraw_window(show=show, reason="rain", by=office_of(show), at=AT)
    seat_panel(show=show, seed=2, by=office_of(show), at=AT)
    entry = entry_of(show, 2)
    judge = Judge.objects.filter(seats__entry=entry).first()
    assert judge
    row = rows_of(judge, entry)[0]
    send(phone_of(judge), [mark(entry, row.code, 5)], at=AT + timedelta(minutes=1))
    assert judging_begun(show)
    with pytest.raises(Conflict, match="begun"):
        seat_panel(show=show, seed=3, by=office_of(show), at=AT)


def test_drawing_and_mending_the_panel_leave_its_seats_alone(show: Show):
    wagon = set_up(show)
    for seed in (1, 2):
        seat_panel(show=show, seed=seed, by=office_of(show), at=AT)
        assert seats_at(wagon) == every_seat("J1", "J2", "J3", "J4")
    mended = mend_panel(show=show, by=office_of(show), at=AT, reason="looked again")
    assert (mended.dropped, mended.added) == (0, 0)
    assert seats_at(wagon) == every_seat("J1", "J2", "J3", "J4")


def test_practice_seats_alone_are_no_panel(show: Show):
    set_up(show)
    with pytest.raises(NotYet, match="draw it first"):
        mend_panel(show=show, by=office_of(show), at=AT, reason="too early")


def test_nothing_is_decided_about_it(show: Show):
    wagon = set_up(show)
    said: dict[str, Any] = {"entry": wagon, "by": office_of(show), "at": AT}
    with pytest.raises(NotYet, match="practice wagon"):
        confirm_entry(**said)
    for decide in (put_on_wait_list, scratch_entry):
        with pytest.raises(NotYet, match="practice wagon"):
            decide(**said, reason="full")
    wagon.refresh_from_db()
    assert (wagon.status, wagon.number) == ("practice", None)
