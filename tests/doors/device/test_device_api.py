"""A judge's phone pairs, is let in or not, and fetches its round."""

from __future__ import annotations

import hashlib
import json
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from entries.models import Entry
from judging.actions.pair_device import make_pairing_code, shut_out_device
from judging.models import CardMark, Device, Judge, PairingCode, RoundEvent
from judging.queries.marks import marks_by_card
from judging.rules.round.card_hash import card_hash
from showrun.shows.models import Show
from tests.http_phone import CODE, EVENTS, PAIR, ROUND, Phone, first_entry, standing_marks
from tests.judged_show import (
    AT,
    card_events,
    entry_of,
    fair,
    judge_of,
    mark,
    mark_everything,
    office_of,
    pair,
    rows_of,
    send,
)
from tests.people import ShowFactory
from tests.problems import problem

pytestmark = pytest.mark.django_db


def pair_with(code: Any, **more: Any) -> Any:
    body = json.dumps({"code": code, **more})
    return Client(enforce_csrf_checks=True).post(PAIR, body, content_type="application/json")


# --- Pairing -------------------------------------------------------------------------------


def a_code(judge: Judge, **more: Any) -> str:
    return make_pairing_code(judge=judge, by=None, at=timezone.now(), **more)[1]


def test_a_code_pairs_one_phone_and_the_token_opens_the_round(judge: Judge):
    answered = pair_with(a_code(judge), label="Pixel, blue cover")
    assert answered.status_code == 201
    body = answered.json()
    assert body["device"]["label"] == "Pixel, blue cover"
    assert body["judge"] == {"code": "J1", "name": judge.person.name}
    opened = Client().get(ROUND, headers={"authorization": f"Bearer {body['token']}"})
    assert opened.status_code == 200
    assert not answered.cookies


def test_a_code_is_read_however_it_is_typed(judge: Judge):
    code = a_code(judge)
    assert pair_with(f" {code.lower().replace('-', ' ')} ").status_code == 201


@pytest.mark.parametrize("code", ["AAAA-AAAA", "", "-", "é" * 8, "' OR 1=1 --"])
def test_an_unknown_code_is_refused(judge: Judge, code: str):
    a_code(judge)
    answered = pair_with(code)
    if code:
        assert "office" in problem(answered, 404, "pairing-unknown")["detail"]
    else:
        assert "code" in problem(answered, 422, "invalid-input")["errors"]
    assert not Device.objects.exists()


def test_a_used_code_is_refused_and_the_first_phone_stays_paired(judge: Judge):
    code = a_code(judge)
    token = pair_with(code).json()["token"]
    problem(pair_with(code), 410, "pairing-used")
    assert Device.objects.count() == 1
    assert Client().get(ROUND, headers={"authorization": f"Bearer {token}"}).status_code == 200


def test_an_expired_code_is_refused(judge: Judge):
    code = a_code(judge, valid_for=timedelta(seconds=-1))
    problem(pair_with(code), 410, "pairing-expired")
    assert not Device.objects.exists()


@pytest.mark.parametrize(
    ("body", "field"),
    [({}, "code"), ({"code": None}, "code"), ({"code": ["A"]}, "code"),
     ({"code": "x" * 41}, "code"),
     ({"code": "AAAA", "label": "x" * 81}, "label"), ({"code": "AA\0A"}, "code"),
     ({"code": "AA\ud800A"}, "code")],
)  # fmt: skip
def test_a_pairing_that_says_no_code_names_the_field(judge: Judge, body: Any, field: str):
    answered = Client().post(PAIR, json.dumps(body), content_type="application/json")
    assert set(problem(answered, 422, "invalid-input")["errors"]) == {field}


def ask_about(code: str) -> Any:
    return Client().post(CODE, json.dumps({"code": code}), content_type="application/json")


def test_whose_a_code_is_can_be_asked_and_uses_nothing_up(judge: Judge):
    code = a_code(judge)
    for _ in range(2):
        answered = ask_about(code.lower())
        assert answered.status_code == 200
        assert answered.json() == {
            "judge": {"code": "J1", "name": judge.person.name},
            "show": {"slug": judge.show.slug, "name": judge.show.name},
        }
    assert not Device.objects.exists()
    assert pair_with(code).status_code == 201
    problem(ask_about(code), 410, "pairing-used")
    problem(ask_about("AAAA-AAAA"), 404, "pairing-unknown")
    problem(ask_about(a_code(judge, valid_for=timedelta(seconds=-1))), 410, "pairing-expired")


def test_asking_whose_a_code_is_counts_as_a_try(judge: Judge):
    assert {ask_about("AAAA-AAAA").status_code for _ in range(60)} == {404}
    problem(ask_about(a_code(judge)), 429, "throttled")
    problem(pair_with("AAAA-AAAA"), 429, "throttled")


def test_a_phone_that_tells_its_earlier_token_is_not_two_phones(judge: Judge):
    token = pair_with(a_code(judge)).json()["token"]
    again = pair_with(a_code(judge), earlier=[token])
    assert again.status_code == 201
    opened = [
        Client().get(ROUND, headers={"authorization": f"Bearer {one}"}).status_code
        for one in (token, again.json()["token"])
    ]
    assert opened == [401, 200]


def test_neither_code_nor_token_is_kept_in_the_clear(judge: Judge):
    code = a_code(judge)
    token = pair_with(code).json()["token"]
    kept = str([*PairingCode.objects.values(), *Device.objects.values()])
    assert code not in kept
    assert code.replace("-", "") not in kept
    assert token not in kept


def test_hammering_with_codes_is_told_to_wait(judge: Judge):
    answers = [pair_with("AAAA-AAAA") for _ in range(60)]
    assert {one.status_code for one in answers} == {404}
    refused = pair_with("AAAA-AAAA")
    problem(refused, 429, "throttled")
    assert 0 < int(refused["Retry-After"]) <= 60
    # a header anybody can write does not make a new sender
    forged = Client().post(
        PAIR,
        json.dumps({"code": "AAAA-AAAA"}),
        content_type="application/json",
        headers={"x-forwarded-for": "203.0.113.7"},
    )
    problem(forged, 429, "throttled")


# --- Who is let in -------------------------------------------------------------------------


@pytest.mark.parametrize(
    "header",
    ["", "Bearer", "Bearer a b", "Bearer garbage", "Bearer \xe9\xff", "Token abc",
     "Basic dXNlcjpwYXNz", f"Bearer {'x' * 4000}"],
)  # fmt: skip
def test_without_a_good_token_there_is_no_way_in(phone: Phone, judge: Judge, header: str):
    event = phone.stamp([mark(first_entry(judge), "rg_wheels", 7)])
    for answered in (
        Client().get(ROUND, headers={"authorization": header}),
        Client().post(
            EVENTS,
            {"events": event},
            content_type="application/json",
            headers={"authorization": header},
        ),
    ):
        code = "device-unknown" if header.startswith("Bearer") else "not-authenticated"
        problem(answered, 401, code)
        assert answered["WWW-Authenticate"].startswith("Bearer")
    assert not RoundEvent.objects.exists()


def test_a_session_cookie_is_no_token(show: Show, phone: Phone):
    for person in (phone.device.judge.person, office_of(show)):
        client = Client()
        client.force_login(person)
        problem(client.get(ROUND), 401, "not-authenticated")
        sent = client.post(EVENTS, {"events": []}, content_type="application/json")
        problem(sent, 401, "not-authenticated")


def test_a_token_opens_nothing_but_the_round(show: Show, phone: Phone):
    for path in (f"shows/{show.slug}/progress", f"shows/{show.slug}/judges", "me"):
        assert phone.http.get(f"/api/v1/{path}", headers=phone.headers).status_code == 403
    assert phone.http.get("/round/", headers=phone.headers).status_code == 200
    office = phone.http.get(f"/shows/{show.slug}/office/", headers=phone.headers)
    assert office.status_code == 404


def test_a_phone_shut_out_gets_no_round_and_what_it_sent_before_stays(phone: Phone, judge: Judge):
    entry = first_entry(judge)
    row = rows_of(judge, entry)[0]
    phone.send(phone.stamp([mark(entry, row.code, 7)]))
    shut_out_device(device=phone.device, by=None, at=AT, reason="lost")
    detail = problem(phone.round(), 401, "device-shut-out")["detail"]
    assert "kept for the office" in detail
    assert standing_marks(judge) == {(entry.pk, row.code): 7}


# --- The round -----------------------------------------------------------------------------


def test_the_round_holds_this_judges_visits_and_marks_and_nobody_elses(show: Show):
    mark_everything(show)
    bundles = {
        code: Phone(judge_of(show, code)).round().json() for code in ("J1", "J2", "J3", "J4")
    }
    for code, bundle in bundles.items():
        judge = judge_of(show, code)
        mine = set(judge.seats.values_list("entry", flat=True))
        assert {visit["entry"]["id"] for visit in bundle["visits"]} == mine
        assert bundle["judge"] == {"code": code, "name": judge.person.name}
        own = {(e, c): str(v) for (e, c), v in standing_marks(judge).items()}
        seen = {
            (visit["entry"]["id"], row): given["value"] + ".00"
            for visit in bundle["visits"]
            for row, given in visit["card"]["marks"].items()
        }
        assert seen == own
        text = json.dumps(bundle)
        others = [judge_of(show, c).person.name for c in bundles if c != code]
        assert not [name for name in others if name in text]
        starts = [visit["starts_at"] for visit in bundle["visits"]]
        assert starts == sorted(starts)
    # J2 is kin to entry 1: not even its name is on that phone
    assert entry_of(show, 1).wagon_name not in json.dumps(bundles["J2"])


def keys_of(found: Any) -> set[str]:
    if isinstance(found, list):
        return set().union(*map(keys_of, found))
    if isinstance(found, dict):
        return set(found).union(*map(keys_of, found.values()))
    return set()


def test_a_phone_never_sees_totals_weights_or_who_owns_a_wagon(show: Show, phone: Phone):
    mark_everything(show)
    bundle = phone.round().json()
    told = keys_of(bundle)
    assert {"marks", "value", "max_mark"} <= told
    assert not told & {"total", "totals", "place", "placings", "rank", "weight", "result",
                       "results", "exhibitor", "crew", "email", "score"}  # fmt: skip
    text = json.dumps(bundle)
    for entry in Entry.objects.filter(show=show).select_related("exhibitor"):
        assert entry.exhibitor.name not in text
        assert entry.exhibitor.email not in text


def test_an_unchanged_round_is_answered_with_304(judge: Judge, phone: Phone):
    first = phone.round()
    tag = first["ETag"]
    assert first["Cache-Control"] == "private, no-cache"
    for asked in (tag, f"W/{tag}", f'"other", {tag}'):
        same = phone.round(**{"if-none-match": asked})
        assert (same.status_code, same.content, same["ETag"]) == (304, b"", tag)
    entry = first_entry(judge)
    phone.send(phone.stamp([mark(entry, rows_of(judge, entry)[0].code, 7)]))
    changed = phone.round(**{"if-none-match": tag})
    assert changed.status_code == 200
    assert changed["ETag"] != tag


def test_one_phones_tag_does_not_hide_another_phones_round(show: Show, phone: Phone):
    other = Phone(judge_of(show, "J3"))
    assert other.round(**{"if-none-match": phone.round()["ETag"]}).status_code == 200


def test_a_show_without_a_card_says_so(show: Show, phone: Phone):
    bare = ShowFactory.create()
    Judge.objects.filter(pk=phone.device.judge_id).update(show=bare)
    problem(phone.round(), 409, "not-yet")


# --- The hash ------------------------------------------------------------------------------


def test_the_hash_in_the_answer_is_the_rules_own(judge: Judge, phone: Phone):
    entry = first_entry(judge)
    rows = rows_of(judge, entry)
    events = phone.stamp(
        [
            mark(entry, rows[0].code, "7.0"),
            {**mark(entry, rows[1].code, 0), "state": "not_inspected", "value": None},
            mark(entry, rows[2].code, 10),
            {"kind": "clear", "entry": entry.pk, "criterion": rows[2].code},
        ]
    )
    told = phone.post({"events": events}).json()["cards"][str(entry.pk)]
    stored = marks_by_card(judge.cards.all())[judge.pk, entry.pk]
    assert told == {"hash": card_hash(stored), "marks": 2, "handed_in": False}
    # and word for word, so that a change of the rule is seen by somebody
    lines = sorted([f"{rows[0].code}=marked:7", f"{rows[1].code}=not_inspected:"])
    assert told["hash"] == hashlib.sha256("\n".join(lines).encode()).hexdigest()


def test_a_whole_card_goes_in_over_http_and_is_told_back(judge: Judge, phone: Phone):
    entry = first_entry(judge)
    events = phone.stamp(card_events(judge, entry, fair))
    answered = phone.post({"unsent": 0, "events": events}).json()
    assert {r["status"] for r in answered["results"]} == {"applied"}
    told = answered["cards"][str(entry.pk)]
    assert told["handed_in"] is True
    assert told["marks"] == len(events) - 1
    assert set(answered["cards"]) == {str(entry.pk)}
    (late,) = phone.send(phone.stamp([mark(entry, rows_of(judge, entry)[0].code, 1)]))
    assert (late["status"], late["code"]) == ("held", "card-handed-in")


def test_the_actions_builder_and_http_agree(judge: Judge, phone: Phone):
    """The same card, once by the action and once over HTTP, has the same hash."""
    entry = first_entry(judge)
    events = card_events(judge, entry, 6)
    other, _ = pair(judge)
    send(other, events[:-1])
    by_action = card_hash(marks_by_card(judge.cards.all())[judge.pk, entry.pk])
    CardMark.objects.all().delete()
    told = phone.post({"events": phone.stamp(events[:-1])}).json()
    assert told["cards"][str(entry.pk)]["hash"] == by_action
