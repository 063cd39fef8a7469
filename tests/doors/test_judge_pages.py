"""Judges, conflicts and phones, as the office engages, declares, pairs and shuts out."""

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
from django.utils import timezone

from entries.actions.decide_entry import scratch_entry
from judging.actions.engage_judge import judge_leaves
from judging.actions.pair_device import pair_device
from judging.models import Conflict, Device, Judge, PairingCode
from judging.queries.stages import standing_of
from judging.web.phones import ago
from showrun.shows.models import AuditEntry, Person, Show
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
    pair,
    send,
    steward_of,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def show() -> Show:
    return build_show()


def page(show: Show) -> str:
    return reverse("judging:judges", args=[show.slug])


def as_person(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def read(show: Show) -> str:
    answer = as_person(office_of(show)).get(page(show))
    assert answer.status_code == 200
    return answer.content.decode()


def sent(show: Show, person: Person | None = None, **fields: Any) -> Any:
    return as_person(person or office_of(show)).post(page(show), fields)


def engage(show: Show, person: Person | None = None, **changed: Any) -> Any:
    typed = {
        "name": "Delphine Yazzie",
        "email": "yazzie@showrun.example",
        "code": "J9",
        "seniority": "novice",
        "sections": ["harness"],
        **changed,
    }
    named = {f"engage-{name}": value for name, value in typed.items()}
    return sent(show, person, do="engage", **named)


def declare(show: Show, person: Person | None = None, **changed: Any) -> Any:
    typed = {
        "judge": judge_of(show, "J1").pk,
        "entry": entry_of(show, 2).pk,
        "kind": "sold_gear",
        "reason": "Sold them their trace chains.",
        **changed,
    }
    named = {f"conflict-{name}": value for name, value in typed.items()}
    return sent(show, person, do="conflict", **named)


def said(answer: Any) -> str:
    return " ".join(str(message) for message in get_messages(answer.wsgi_request))


# --- Who may -------------------------------------------------------------------------------


def test_the_page_is_the_offices(show: Show, stranger: Person):
    assert as_person(office_of(show)).get(page(show)).status_code == 200
    assert as_person(steward_of(show)).get(page(show)).status_code == 200
    assert as_person(entry_of(show).exhibitor).get(page(show)).status_code == 403
    assert as_person(judge_of(show).person).get(page(show)).status_code == 403
    assert as_person(stranger).get(page(show)).status_code == 404
    assert Client().get(page(show)).status_code == 404


def test_another_shows_office_is_a_stranger_here(show: Show):
    other = build_show(slug="elsewhere", n_entries=1)
    assert as_person(office_of(other)).get(page(show)).status_code == 404
    assert engage(show, office_of(other)).status_code == 404
    assert declare(show, office_of(other)).status_code == 404
    assert not Judge.objects.filter(show=show, code="J9").exists()


def test_a_steward_pairs_phones_and_engages_nobody(show: Show):
    steward = steward_of(show)
    assert engage(show, steward).status_code == 403
    assert declare(show, steward).status_code == 403
    code = reverse("judging:pairing-code", args=[show.slug, judge_of(show).pk])
    assert as_person(steward).post(code).status_code == 200
    text = as_person(steward).get(page(show)).content.decode()
    assert "Engage a judge" not in text
    assert "Make&nbsp;code" in text


# --- Engaging ------------------------------------------------------------------------------


def test_a_judge_is_engaged_and_stands_on_the_list(show: Show):
    answer = engage(show)
    assert answer.status_code == 302
    judge = judge_of(show, "J9")
    assert [section.code for section in judge.sections.all()] == ["harness"]
    assert judge.seniority == "novice"
    assert judge.person.email == "yazzie@showrun.example"
    assert "Delphine Yazzie (J9) is engaged" in said(answer)
    assert "Delphine Yazzie (J9)" in read(show)


def test_a_form_with_faults_keeps_what_was_typed_and_says_what_is_wrong(show: Show):
    answer = engage(show, email="yazzie", sections=[])
    text = answer.content.decode()
    assert answer.status_code == 422
    assert 'value="yazzie"' in text
    assert 'value="Delphine Yazzie"' in text
    assert "That is not a whole e-mail address" in text
    assert 'href="#id_engage-email"' in text
    assert 'id="id_engage-email_error"' in text
    assert "Choose at least one section" in text


def test_a_taken_short_name_is_refused_and_leaves_no_person_behind(show: Show):
    answer = engage(show, code="J1")
    assert answer.status_code == 422
    assert "has the short name “J1”" in answer.content.decode()
    assert not Person.objects.filter(email="yazzie@showrun.example").exists()


def test_too_few_judges_for_a_section_are_named_before_the_draw():
    show = build_show(slug="short", n_judges=1, judges_per_section=3, kin=False)
    assert "Harness: each wagon is seen by 3, and 1 judge is engaged for it." in read(show)
    add_judges(show, 2)
    assert "Too few judges" not in read(show)
    judge_leaves(judge=judge_of(show, "J2"), reason="Ill.", by=office_of(show), at=AT)
    assert "Harness: each wagon is seen by 3, and 2 judges are engaged for it." in read(show)
    standing = standing_of(show, hands_needed=2)
    assert ("Harness", 2, 3) in standing.sections_short
    assert standing.judges == 2


# --- Conflicts -----------------------------------------------------------------------------


def test_a_conflict_is_recorded_with_its_reason(show: Show):
    answer = declare(show)
    assert answer.status_code == 302
    conflict = Conflict.objects.get(judge=judge_of(show, "J1"))
    assert (conflict.entry, conflict.kind) == (entry_of(show, 2), "sold_gear")
    assert "Sold them their trace chains." in read(show)
    line = AuditEntry.objects.filter(show=show, verb="declared conflict").first()
    assert line is not None
    assert line.actor == office_of(show)


def test_a_conflict_with_somebody_seated_asks_for_another_draw(show: Show):
    draw_panel(show)
    judge = judge_of(show, "J1")
    seat = judge.seats.first()
    assert seat is not None
    answer = declare(show, entry=seat.entry_id)
    assert "mend it or draw it again" in said(answer)
    text = read(show)
    assert "The panel breaks a conflict" in text
    assert "seated there" in text


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"judge": ""}, "Which judge?"),
        ({"entry": ""}, "Which wagon?"),
        ({"kind": ""}, "What kind of conflict?"),
        ({"kind": "other", "reason": ""}, "Say what the conflict is."),
        ({"reason": "x" * 201}, "at most 200"),
    ],
)
def test_what_a_conflict_lacks_is_said(show: Show, changed: dict[str, Any], sentence: str):
    answer = declare(show, **changed)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert not Conflict.objects.filter(judge=judge_of(show, "J1")).exists()


def test_a_conflict_cannot_name_another_shows_judge_or_entry(show: Show):
    other = build_show(slug="elsewhere", n_entries=1, kin=False)
    assert declare(show, judge=judge_of(other).pk).status_code == 422
    assert declare(show, entry=entry_of(other).pk).status_code == 422
    assert not Conflict.objects.filter(judge__in=[judge_of(other), judge_of(show)]).exists()


def test_a_scratched_entry_is_not_offered(show: Show):
    scratch_entry(entry=entry_of(show, 3), by=office_of(show), at=BEFORE, reason="Axle broke.")
    options = re.findall(r"<option value=\"\d+\">([^<]*)</option>", read(show))
    assert "2. Nine Biscuit" in options
    assert "3. Copper Moth" not in options


def test_a_conflict_twice_is_refused_in_words(show: Show):
    declare(show)
    answer = declare(show)
    assert answer.status_code == 422
    assert "is recorded already" in answer.content.decode()


# --- Phones --------------------------------------------------------------------------------


def make_code(show: Show, judge: Judge) -> str:
    answer = as_person(office_of(show)).post(
        reverse("judging:pairing-code", args=[show.slug, judge.pk])
    )
    assert answer.status_code == 200
    assert "no-store" in answer["Cache-Control"]
    return answer.content.decode()


def test_a_code_is_shown_once_with_its_link_and_works(show: Show):
    judge = judge_of(show)
    text = make_code(show, judge)
    found = re.search(r"<code>(\w{4}-\w{4})</code></h1>", text)
    assert found
    code = found[1]
    assert f"http://testserver/round/#pair={code}" in text
    assert "(60 minutes)" in text
    assert code not in read(show)
    kept = PairingCode.objects.get(judge=judge)
    assert code not in kept.code_hash
    device, _ = pair_device(code=code, label="blue cover", at=timezone.now())
    assert device.judge == judge


def test_the_square_is_a_picture_with_a_title_and_no_style(show: Show):
    text = make_code(show, judge_of(show))
    svg = re.search(r"<svg.*?</svg>", text, re.S)
    assert svg
    assert 'role="img"' in svg[0]
    assert "<title>Link that pairs a phone with Chidi Abara (J1)</title>" in svg[0]
    assert "style=" not in text


def test_every_code_is_another(show: Show):
    codes = {
        found[1]
        for _ in range(3)
        if (found := re.search(r"<code>(\S+)</code></h1>", make_code(show, judge_of(show))))
    }
    assert len(codes) == 3


def test_reading_the_codes_address_makes_none(show: Show):
    address = reverse("judging:pairing-code", args=[show.slug, judge_of(show).pk])
    assert as_person(office_of(show)).get(address).status_code == 302
    assert not PairingCode.objects.exists()


def test_no_code_for_another_shows_judge(show: Show):
    other = build_show(slug="elsewhere", n_entries=1)
    address = reverse("judging:pairing-code", args=[show.slug, judge_of(other).pk])
    assert as_person(office_of(show)).post(address).status_code == 404
    assert not PairingCode.objects.exists()


def test_phones_are_listed_with_contact_and_unsent(show: Show):
    draw_panel(show)
    at = timezone.now()
    device, _ = pair(judge_of(show), label="Pixel, blue cover", at=at - timedelta(minutes=43))
    send(device, [], unsent=12, at=at - timedelta(minutes=43))
    text = read(show)
    assert "Pixel, blue cover" in text
    assert "43 minutes ago" in text
    assert re.search(r'data-label="Unsent">12<', text)
    assert "Silent for 43 minutes, and 12 touches are only on this phone" in text


@pytest.mark.parametrize(
    ("minutes", "words"),
    [
        (0, "just now"),
        (1, "1 minute ago"),
        (119, "119 minutes ago"),
        (120, "2 hours ago"),
        (47 * 60, "47 hours ago"),
        (48 * 60, "2 days ago"),
    ],
)
def test_last_contact_is_said_in_the_coarsest_words(minutes: int, words: str):
    assert ago(AT - timedelta(minutes=minutes), AT) == words


def test_a_phone_never_heard_of_says_so():
    assert ago(None, AT) == "never"


def test_a_phone_is_shut_out_with_the_reason_in_the_record(show: Show):
    device, _ = pair(judge_of(show))
    answer = sent(show, do="shut-out", device=device.pk, reason="Lost in the creek.")
    assert answer.status_code == 302
    device.refresh_from_db()
    assert device.revoked_at is not None
    line = AuditEntry.objects.filter(show=show, verb="shut out").first()
    assert line is not None
    assert line.reason == "Lost in the creek."
    assert "shut out" in read(show)


@pytest.mark.parametrize("reason", ["", "   ", "x" * 201])
def test_a_phone_is_not_shut_out_without_a_usable_reason(show: Show, reason: str):
    device, _ = pair(judge_of(show))
    answer = sent(show, do="shut-out", device=device.pk, reason=reason)
    device.refresh_from_db()
    assert device.revoked_at is None
    assert "say why" in said(answer)


def test_another_shows_phone_is_out_of_reach(show: Show):
    other = build_show(slug="elsewhere", n_entries=1)
    device, _ = pair(judge_of(other))
    assert sent(show, do="shut-out", device=device.pk, reason="Mine now.").status_code == 404
    assert sent(show, do="shut-out", device="x", reason="Mine now.").status_code == 404
    assert Device.objects.get(pk=device.pk).revoked_at is None


def test_an_unknown_wish_is_refused(show: Show):
    assert sent(show, do="dismiss").status_code == 422


# --- The page itself -----------------------------------------------------------------------


def test_a_show_without_a_card_says_what_comes_first(show: Show, office: Person):
    bare = Show.objects.create(
        slug="bare", name="Bare", ground="A field", starts_on=show.starts_on, ends_on=show.ends_on,
        judging_starts_at=show.judging_starts_at, judging_minutes=60, entry_cap=1,
    )  # fmt: skip
    bare.roles.create(person=office, role="office")
    answer = as_person(office).get(page(bare))
    assert answer.status_code == 200
    assert "this show has no scorecard yet" in answer.content.decode()


def test_queries_do_not_grow_with_judges_conflicts_phones_and_entries(show: Show):
    def queries() -> int:
        client = as_person(office_of(show))
        with CaptureQueriesContext(connection) as asked:
            assert client.get(page(show)).status_code == 200
        return len(asked)

    open_window(show)
    pair(judge_of(show))
    few = queries()
    add_entries(show, 6)
    for judge in add_judges(show, 4):
        pair(judge)
        declare(show, judge=judge.pk)
    assert Judge.objects.filter(show=show).count() == 8
    assert queries() == few
