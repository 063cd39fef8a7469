"""A judge's phone sends batches: every bad thing gets a clear answer, and nothing is lost."""

from __future__ import annotations

import json
from typing import Any

import pytest

from judging.models import CardMark, Criterion, Judge, Question, RoundEvent
from judging.rules.round.events import BATCH_MAX
from showrun.shows.models import Show
from tests.http_phone import (
    EVENTS,
    Phone,
    first_entry,
    first_section,
    held_at_the_office,
    standing_marks,
)
from tests.judged_show import (
    AT,
    answer,
    build_show,
    draw_panel,
    entry_of,
    judge_of,
    mark,
    remark,
    rows_of,
)
from tests.problems import problem

pytestmark = pytest.mark.django_db


def test_one_bad_event_keeps_no_good_one_out_and_reaches_the_office(
    show: Show, judge: Judge, phone: Phone
):
    entry = first_entry(judge)
    rows = rows_of(judge, entry)
    events = phone.stamp(
        [mark(entry, rows[0].code, 7), mark(entry, rows[1].code, 11), mark(entry, rows[2].code, 6)]
    )
    results = phone.send(events)
    assert [r["id"] for r in results] == [e["id"] for e in events]
    assert [r["status"] for r in results] == ["applied", "held", "applied"]
    assert results[1]["code"] == "mark-over-maximum"
    assert "at most 10; 11 was sent" in results[1]["reason"]
    assert standing_marks(judge) == {(entry.pk, rows[0].code): 7, (entry.pk, rows[2].code): 6}
    (held,) = held_at_the_office(show)
    assert held == {
        "id": events[1]["id"],
        "judge": "J1",
        "code": "mark-over-maximum",
        "reason": results[1]["reason"],
        "received_at": held["received_at"],
    }
    assert RoundEvent.objects.get(pk=events[1]["id"]).body == events[1]
    again = phone.send(events)
    assert [r["status"] for r in again] == ["duplicate"] * 3
    assert again[1]["code"] == "mark-over-maximum"
    assert len(held_at_the_office(show)) == 1


BAD_MARKS: list[tuple[dict[str, Any], str]] = [
    ({"value": "11"}, "mark-over-maximum"),
    ({"value": "10.01"}, "mark-over-maximum"),
    ({"value": "1e3"}, "mark-over-maximum"),
    ({"value": 1e300}, "mark-over-maximum"),
    ({"value": "-1"}, "mark-below-zero"),
    ({"value": "7.5"}, "mark-off-step"),
    ({"value": "1e-9"}, "mark-off-step"),
    ({"value": None}, "mark-missing"),
    ({"value": "NaN"}, "unreadable"),
    ({"value": "Infinity"}, "unreadable"),
    ({"value": "seven"}, "unreadable"),
    ({"value": True}, "unreadable"),
    ({"value": {"n": 7}}, "unreadable"),
    ({"value": [7]}, "unreadable"),
    ({"state": "not_inspected"}, "mark-not-empty"),
    ({"state": "sold"}, "unreadable"),
    ({"state": None}, "unreadable"),
    ({"kind": "unreadable"}, "unreadable"),
    ({"kind": "delete_all"}, "unreadable"),
    ({"kind": None}, "unreadable"),
    ({"criterion": None}, "unreadable"),
    ({"criterion": ""}, "unreadable"),
    ({"criterion": "x" * 81}, "unreadable"),
    ({"criterion": "no_such_row"}, "criterion-not-yours"),
    ({"entry": None}, "unreadable"),
    ({"entry": "1"}, "unreadable"),
    ({"entry": True}, "unreadable"),
    ({"entry": -1}, "unreadable"),
    ({"entry": 10**30}, "unreadable"),
    ({"entry": 2**53 - 1}, "not-your-card"),
    ({"seq": None}, "unreadable"),
    ({"seq": 0}, "unreadable"),
    ({"seq": 2**60}, "unreadable"),
    ({"id": "no-uuid"}, "unreadable"),
    ({"id": None}, "unreadable"),
    ({"kind": "remark", "section": "harness", "text": "x" * 301}, "text-too-long"),
    ({"kind": "remark", "section": "no_such", "text": "dry"}, "section-not-yours"),
    ({"kind": "remark", "section": "harness", "text": ["dry"]}, "unreadable"),
    ({"kind": "concern", "degree": "panic", "text": "fire"}, "unreadable"),
    ({"kind": "answer", "question": 999, "verdict": "confirm"}, "question-unknown"),
    ({"kind": "answer", "question": 1, "verdict": "maybe"}, "unreadable"),
    ({"kind": "hand_in"}, "rows-missing"),
]


@pytest.mark.parametrize(("wrong", "code"), BAD_MARKS, ids=lambda v: str(v)[:60])
def test_a_bad_event_is_held_with_its_reason_between_two_good_ones(
    show: Show, judge: Judge, phone: Phone, wrong: dict[str, Any], code: str
):
    entry = first_entry(judge)
    rows = rows_of(judge, entry)
    good = [mark(entry, rows[0].code, 7), mark(entry, rows[1].code, 8)]
    events = phone.stamp([good[0], {**mark(entry, rows[2].code, 5), **wrong}, good[1]])
    results = phone.send(events)
    assert [r["status"] for r in results] == ["applied", "held", "applied"]
    assert results[1]["code"] == code
    assert len(results[1]["reason"]) > 10
    assert [(h["code"], h["judge"]) for h in held_at_the_office(show)] == [(code, "J1")]
    assert standing_marks(judge) == {(entry.pk, rows[0].code): 7, (entry.pk, rows[1].code): 8}
    assert [r["status"] for r in phone.send(events)] == ["duplicate"] * 3
    assert RoundEvent.objects.count() == 3


@pytest.mark.parametrize(
    "junk", [None, 0, 7, "what is this", [], {}, [[1]], {"id": "x"}, 1.5, False]
)
def test_what_is_no_event_at_all_is_held_too(show: Show, judge: Judge, phone: Phone, junk: Any):
    entry = first_entry(judge)
    row = rows_of(judge, entry)[0]
    events = [*phone.stamp([mark(entry, row.code, 7)]), junk]
    results = phone.send(events)
    assert [(r["status"], r["code"]) for r in results] == [("applied", ""), ("held", "unreadable")]
    (held,) = held_at_the_office(show)
    assert RoundEvent.objects.get(pk=held["id"]).body == ("null" if junk is None else junk)
    assert [r["status"] for r in phone.send(events)] == ["duplicate", "duplicate"]


def test_a_number_beyond_all_numbers_is_held_and_not_choked_on(show: Show, phone: Phone):
    entry = first_entry(phone.device.judge)
    (event,) = phone.stamp([mark(entry, "rg_wheels", 7)])
    text = json.dumps({"events": [event]}).replace('"7"', "1e999")
    answered = phone.post(text)
    assert answered.status_code == 200, answered.content
    (result,) = answered.json()["results"]
    assert (result["status"], result["code"]) == ("held", "mark-over-maximum")
    assert len(held_at_the_office(show)) == 1


@pytest.mark.parametrize("value", ["1e-9999999", "0e-9999999"])
def test_a_number_with_millions_of_places_is_no_mark(phone: Phone, value: str):
    entry = first_entry(phone.device.judge)
    row = rows_of(phone.device.judge, entry)[0]
    (result,) = phone.send(phone.stamp([mark(entry, row.code, value)]))
    assert result["status"] == "held"
    assert not CardMark.objects.exists()


def test_the_same_junk_from_two_phones_reaches_both_offices(show: Show, phone: Phone):
    other = build_show(slug="other-ground", n_entries=1, n_judges=1)
    far = Phone(judge_of(other, "J1"))
    for one, at_home in ((phone, show), (far, other)):
        (result,) = one.send([{"kind": "mark"}])
        assert result["status"] == "held"
        assert len(held_at_the_office(at_home)) == 1


def test_letters_no_database_keeps_are_kept_as_a_sign(phone: Phone):
    entry = first_entry(phone.device.judge)
    section = first_section(phone.device.judge)
    events = phone.stamp([remark(entry, section, "dry\0 \ud83d leather"), {"kind": "\0\ud800"}])
    assert [r["status"] for r in phone.send(events)] == ["applied", "held"]


def test_another_judges_card_is_not_written_on(show: Show, phone: Phone):
    kin = Phone(judge_of(show, "J2"))  # J2 is kin to entry 1 and has no seat there
    barred = entry_of(show, 1)
    (result,) = kin.send(kin.stamp([mark(barred, "rg_wheels", 7)]))
    assert (result["status"], result["code"]) == ("held", "not-your-card")
    assert not CardMark.objects.exists()
    assert [h["judge"] for h in held_at_the_office(show)] == ["J2"]


def test_an_entry_of_another_show_is_not_written_on(show: Show, phone: Phone):
    other = build_show(slug="other-ground")
    draw_panel(other)
    (result,) = phone.send(phone.stamp([mark(entry_of(other, 1), "rg_wheels", 7)]))
    assert (result["status"], result["code"]) == ("held", "not-your-card")
    assert not CardMark.objects.exists()
    assert held_at_the_office(other) == []


def test_a_row_that_is_not_on_the_rig_is_not_marked(show: Show, judge: Judge, phone: Phone):
    stiff = next(
        seat.entry
        for seat in judge.seats.select_related("entry", "section")
        if seat.entry.tongue == "stiff" and seat.section.code == "running_gear"
    )
    (result,) = phone.send(phone.stamp([mark(stiff, "rg_queen_bolt", 7)]))
    assert (result["status"], result["code"]) == ("held", "criterion-not-on-rig")
    assert "does not apply to this rig" in result["reason"]
    assert len(held_at_the_office(show)) == 1


def test_a_question_to_somebody_else_is_not_answered(show: Show, phone: Phone):
    row = Criterion.objects.get(code="ck_order", section__scorecard__show=show)
    asked = Question.objects.create(
        judge=judge_of(show, "J3"), entry=entry_of(show, 2), criterion=row, value=1, expected=8,
        statistic=4.0, threshold=3.5, alpha=0.05, asked_at=AT,
    )  # fmt: skip
    (result,) = phone.send(phone.stamp([answer(asked, "correct", 8, "slip")]))
    assert (result["status"], result["code"]) == ("held", "question-unknown")
    asked.refresh_from_db()
    assert asked.state == Question.State.OPEN


def test_more_than_a_batch_is_refused_whole_and_can_be_sent_in_two(phone: Phone):
    entry = first_entry(phone.device.judge)
    section = first_section(phone.device.judge)
    events = phone.stamp([remark(entry, section, f"word {n}") for n in range(BATCH_MAX + 1)])
    assert len(events) == 41
    refused = phone.post({"unsent": 41, "events": events})
    assert "At most 40" in problem(refused, 413, "batch-too-large")["detail"]
    assert not RoundEvent.objects.exists()
    sent = phone.send(events[:40]) + phone.send(events[40:])
    assert [r["status"] for r in sent] == ["applied"] * 41


@pytest.mark.parametrize(
    ("text", "status", "code"),
    [
        ("", 422, "invalid-input"),
        ("events=1", 400, "parse-error"),
        ('{"events": [', 400, "parse-error"),
        (b"\xff\xfe\x00", 400, "parse-error"),
        ('{"events": [{"value": NaN}]}', 400, "parse-error"),
        ('{"events": [-Infinity]}', 400, "parse-error"),
        ("1" * 5000, 400, "parse-error"),
        ("[" * 100_000 + "]" * 100_000, 400, "parse-error"),
        ('{"events": [' + "[" * 500 + "]" * 500 + "]}", 400, "parse-error"),
        ('{"events": [' + '{"a":' * 40 + "1" + "}" * 40 + "]}", 400, "parse-error"),
        ('{"events": ["' + "x" * 1_000_000 + '"]}', 413, "body-too-large"),
        ("{}", 422, "invalid-input"),
        ("null", 422, "invalid-input"),
        ("7", 422, "invalid-input"),
        ("[]", 422, "invalid-input"),
        ('{"events": null}', 422, "invalid-input"),
        ('{"events": {"0": {}}}', 422, "invalid-input"),
        ('{"events": "all"}', 422, "invalid-input"),
        ('{"events": [], "unsent": -1}', 422, "invalid-input"),
        ('{"events": [], "unsent": 1e999}', 422, "invalid-input"),
        ('{"events": [], "unsent": "many"}', 422, "invalid-input"),
    ],
    ids=lambda v: str(v)[:30],
)
def test_what_is_no_batch_is_refused_and_nothing_is_written(
    phone: Phone, text: str, status: int, code: str
):
    problem(phone.post(text), status, code)
    assert not RoundEvent.objects.exists()
    assert phone.round().status_code == 200


def test_a_form_is_not_json(phone: Phone):
    sent = phone.http.post(EVENTS, {"events": "[]"}, headers=phone.headers)
    problem(sent, 415, "unsupported-media-type")
    problem(phone.http.get(EVENTS, headers=phone.headers), 405, "method-not-allowed")


def test_an_empty_batch_tells_the_office_how_much_is_unsent(phone: Phone):
    assert phone.send([], unsent=12) == []
    phone.device.refresh_from_db()
    assert phone.device.unsent == 12
    assert phone.device.last_seen_at is not None


def test_two_phones_of_one_judge_with_different_marks_keep_both(show: Show, judge: Judge):
    one, two = Phone(judge, "first"), Phone(judge, "spare")
    entry = first_entry(judge)
    row = rows_of(judge, entry)[0].code
    one.send(one.stamp([mark(entry, row, 7)]))
    (same,) = two.send(two.stamp([mark(entry, row, 7)]))
    assert same["status"] == "applied"
    (other,) = two.send(two.stamp([mark(entry, row, 8)]))
    assert (other["status"], other["code"]) == ("held", "other-device")
    assert standing_marks(judge) == {(entry.pk, row): 7}
    assert [h["code"] for h in held_at_the_office(show)] == ["other-device"]
