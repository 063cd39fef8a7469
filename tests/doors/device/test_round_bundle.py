"""What a phone's round says of the rig, of forms, parts and policies, and of practice."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.db.models import QuerySet
from django.test import Client
from django.test.utils import CaptureQueriesContext

from entries.models import Entry
from judging.actions.practice import close_practice, set_up_practice
from judging.actions.settle_rig import adopt_rig, decline_rig
from judging.actions.version_scorecard import new_version, use_scorecard
from judging.models import Card, ClassCard, Criterion, Judge, RigReport, Scorecard, Seat, Section
from judging.queries.library import handbook
from judging.queries.round import round_bundle
from judging.rules.cards.policies import in_words
from showrun.shows.models import Show
from tests.http_phone import Phone, first_entry
from tests.judged_show import (
    AT,
    RIGS,
    mark,
    mark_everything,
    office_of,
    rows_of,
)
from tests.round_events import rig_found

pytestmark = pytest.mark.django_db

DROP, STIFF = "rg_queen_bolt", {"tongue": "stiff"}


def visit_of(phone: Phone, entry: Entry) -> dict[str, Any]:
    """Return a visit of the phone's round."""
    visits = phone.round().json()["visits"]
    return dict(next(visit for visit in visits if visit["entry"]["id"] == entry.pk))


def at_a_drop_tongue(show: Show) -> QuerySet[Seat]:
    """Return the seats at the running gear of wagons with a drop tongue."""
    seats = Seat.objects.filter(judge__show=show, section__code="running_gear")
    return seats.filter(entry__tongue="drop").select_related("judge__person", "judge__show")


@pytest.fixture
def judge(show: Show) -> Judge:
    """A judge who looks at the running gear of a wagon with a drop tongue."""
    return at_a_drop_tongue(show).order_by("judge__code")[0].judge


@pytest.fixture
def entry(show: Show, judge: Judge) -> Entry:
    """That wagon."""
    seat = at_a_drop_tongue(show).filter(judge=judge).select_related("entry").first()
    assert seat is not None
    return seat.entry


# --- The rig -------------------------------------------------------------------------------


def test_the_rig_a_judge_found_stands_on_their_phone_beside_the_one_entered(
    judge: Judge, phone: Phone, entry: Entry
):
    before = visit_of(phone, entry)
    entered = entry.rig.facts()
    assert before["entry"]["rig"] == before["entry"]["rig_entered"] == entered
    assert before["rig_report"] is None
    found = {**entered, **STIFF}
    sent = phone.send(
        phone.stamp(
            [
                mark(entry, "rg_wheels", 8),
                mark(entry, DROP, 7),
                rig_found(entry, found, "It does not hinge."),
            ]
        )
    )
    assert {one["status"] for one in sent} == {"applied"}
    after = visit_of(phone, entry)
    assert after["entry"]["rig"] == found
    assert after["entry"]["rig_words"].startswith("stiff tongue, ")
    assert after["entry"]["rig_entered"] == entered
    assert after["rig_report"] == {"state": "open", "text": "It does not hinge.", "note": ""}
    assert set(after["card"]["marks"]) == {"rg_wheels"}
    assert after["card"]["aside"] == {DROP: {"state": "marked", "value": "7"}}
    others = Judge.objects.filter(seats__entry=entry).exclude(pk=judge.pk).distinct()
    assert others
    for other in others:
        theirs = visit_of(Phone(other), entry)
        assert (theirs["entry"]["rig"], theirs["rig_report"]) == (entered, None)


@pytest.mark.parametrize("verb", [adopt_rig, decline_rig])
def test_the_phone_is_told_what_the_office_made_of_a_report(
    show: Show, phone: Phone, entry: Entry, verb: Any
):
    found = {**entry.rig.facts(), **STIFF}
    phone.send(phone.stamp([rig_found(entry, found)]))
    verb(report=RigReport.objects.get(), note="Looked myself.", by=office_of(show), at=AT)
    told = visit_of(phone, entry)
    adopted = verb is adopt_rig
    state = "adopted" if adopted else "declined"
    assert told["rig_report"] == {"state": state, "text": "", "note": "Looked myself."}
    assert (told["entry"]["rig"] == found) is adopted
    assert told["entry"]["rig_entered"] == told["entry"]["rig"]


def test_the_facts_of_a_rig_come_with_their_words(phone: Phone):
    facts = phone.round().json()["rig_facts"]
    assert [one["fact"] for one in facts] == ["tongue", "hitch", "draft", "pattern", "holdback"]
    assert facts[1]["values"][1] == {"value": "four_up", "words": "four-up"}


def test_the_hash_in_the_round_is_that_of_the_receipt(phone: Phone, entry: Entry):
    assert visit_of(phone, entry)["card"]["hash"] == ""
    found = {**entry.rig.facts(), **STIFF}
    events = [mark(entry, "rg_wheels", 8), mark(entry, DROP, 7), rig_found(entry, found)]
    receipt = phone.post({"events": phone.stamp(events)}).json()["cards"][str(entry.pk)]
    assert receipt["marks"] == 1
    assert visit_of(phone, entry)["card"]["hash"] == receipt["hash"]


def test_marks_on_rows_of_an_earlier_card_are_shown_and_never_come_back_by_a_rig(
    show: Show, phone: Phone, entry: Entry
):
    phone.send(phone.stamp([mark(entry, "rg_wheels", 8), mark(entry, DROP, 7)]))
    office = office_of(show)
    card = new_version(card=Scorecard.objects.get(show=show), by=office, at=AT)
    Criterion.objects.filter(section__scorecard=card, code=DROP).update(max_mark=5)
    use_scorecard(card=card, reason="Too many points for one bolt.", by=office, at=AT)
    shown = visit_of(phone, entry)["card"]
    assert set(shown["marks"]) == {"rg_wheels"}
    assert shown["aside"] == {}
    name = "Queen bolt and drop-tongue hounds"
    about = {"code": DROP, "name": name, "form": "points"}
    assert shown["earlier"] == [{**about, "state": "marked", "value": "7"}]


# --- The card, and what a judge reads beside it ----------------------------------------------


def test_forms_and_the_notice_come_with_the_card(show: Show, phone: Phone):
    Scorecard.objects.filter(show=show).update(notice="Stop orders come first.")
    kit = Section.objects.filter(scorecard__show=show, code="camp_kit")
    kit.update(form="pass_fail", all_or_nothing=True)
    card = phone.round().json()["card"]
    assert card["notice"] == "Stop orders come first."
    forms = {one["code"]: (one["form"], one["all_or_nothing"]) for one in card["sections"]}
    assert forms["camp_kit"] == ("pass_fail", True)
    assert forms["harness"] == ("points", False)


def test_the_handbook_brings_the_parts_that_rows_name_and_drawings_the_worker_keeps(
    show: Show, phone: Phone
):
    assert phone.round().json()["handbook"] == {"parts": {}, "drawings": {}}
    named = ["hames", "collar", "gone_from_the_handbook"]
    rows = Criterion.objects.filter(section__scorecard__show=show)
    rows.filter(code="hn_leather").update(parts=named)
    given = phone.round().json()
    (row,) = (
        row
        for section in given["card"]["sections"]
        for row in section["criteria"]
        if row["code"] == "hn_leather"
    )
    assert row["parts"] == named
    assert list(given["handbook"]["parts"]) == ["collar", "hames"]
    part, known = given["handbook"]["parts"]["hames"], handbook()["hames"]
    texts = ("name", "group", "job", "look", "fails", "danger", "drawing", "mark")
    assert {key: part[key] for key in texts} == {key: getattr(known, key) for key in texts}
    assert part["rigs"] == "every rig"
    (drawing,) = given["handbook"]["drawings"].values()
    assert set(drawing) == {"title", "alt", "url"}
    assert f'"{drawing["url"]}"' in Client().get("/round/worker.js").content.decode()


def test_only_classes_the_judge_looks_at_are_declared_to_them(show: Show, judge: Judge):
    for code, note in (("trail", "Tarps may be new."), ("working_harness", "Bring the mules.")):
        ClassCard.objects.filter(show_class__show=show, show_class__code=code).update(
            policy_note=note, not_inspected="zero"
        )
    Seat.objects.filter(judge=judge, section__code="harness").delete()
    (told,) = Phone(judge).round().json()["policies_by_class"]
    declared = ClassCard.objects.get(show_class__show=show, show_class__code="trail")
    assert told["name"] == "Trail wagon"
    assert told["lines"] == list(in_words(declared.policies))
    assert told["lines"][-1] == "Tarps may be new."
    assert told["states"] == {
        "zero": "Zero is a mark: the judge looked and gave nothing.",
        "not_applicable": "A row that does not apply is left out; its points go to the other "
        "rows of its section.",
        "not_inspected": "A row that could not be inspected counts as zero.",
    }
    assert set(told["sections"]) == {"running_gear", "camp_kit", "harness"}


# --- Practice, and how much is read -----------------------------------------------------------


def test_the_practice_wagon_comes_first_and_goes_when_it_is_closed(
    show: Show, judge: Judge, phone: Phone
):
    counted = [visit["entry"]["id"] for visit in phone.round().json()["visits"]]
    wagon = set_up_practice(
        show=show, wagon_name="Old Freighter", rig=RIGS[1], by=office_of(show), at=AT
    )
    visits = phone.round().json()["visits"]
    assert [visit["entry"]["id"] for visit in visits] == [wagon.pk, *counted]
    assert [visit["practice"] for visit in visits] == [True] + [False] * len(counted)
    assert (visits[0]["entry"]["number"], visits[0]["starts_at"]) == (None, None)
    assert set(visits[0]["sections"]) == set(judge.sections.values_list("code", flat=True))
    close_practice(show=show, by=office_of(show), at=AT)
    after = phone.round().json()["visits"]
    assert [visit["entry"]["id"] for visit in after] == counted


def test_a_round_takes_as_many_reads_however_much_there_is(show: Show, judge: Judge):
    def reads() -> int:
        fresh = Phone(judge).device
        with CaptureQueriesContext(connection) as seen:
            round_bundle(fresh, at=AT)
        return len(seen)

    phone = Phone(judge)
    phone.send(
        phone.stamp([mark(first_entry(judge), rows_of(judge, first_entry(judge))[0].code, 7)])
    )
    few = reads()
    for entry in Entry.objects.filter(pk__in=judge.seats.values("entry")):
        other = {**entry.rig.facts(), "pattern": "military", "draft": "chain"}
        phone.send(phone.stamp([rig_found(entry, other)]))
    mark_everything(show)
    set_up_practice(show=show, wagon_name="Freighter", rig=RIGS[0], by=office_of(show), at=AT)
    Criterion.objects.filter(section__scorecard__show=show).update(parts=["collar", "bit"])
    assert Card.objects.filter(judge=judge).count() > 2
    assert RigReport.objects.count() > 2
    assert reads() == few
