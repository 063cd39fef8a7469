"""`/metrics`: what a machine that watches reads, and what it never reads."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

import pytest
from django.core.mail.backends import locmem
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from prometheus_client.parser import text_string_to_metric_families

from entries.models import Entry
from judging.models import Device, Judge, Question, SafetyConcern, Window
from reports.models import Paper
from showrun.shows.models import Show
from tests.judged_show import (
    AT,
    build_show,
    card_events,
    concern,
    entry_of,
    judge_of,
    mark,
    office_of,
    open_window,
    pair,
    send,
)
from tests.people import PersonFactory

pytestmark = pytest.mark.django_db
TOKEN = "a-long-token-for-the-tests"
HEADERS = {"authorization": f"Bearer {TOKEN}"}


@pytest.fixture
def watcher(settings, monkeypatch: pytest.MonkeyPatch) -> Client:
    """A machine that may read them, in the hour of judging."""
    settings.METRICS_TOKEN = TOKEN
    monkeypatch.setattr("showrun.project.metrics.page.timezone.now", lambda: AT)
    return Client(headers=HEADERS)


def figures(watcher: Client) -> dict[tuple[str, tuple[str, ...]], float]:
    """Every figure by its name and the values of its labels, these sorted by their names."""
    answered = watcher.get("/metrics")
    assert answered.status_code == 200
    assert answered["Content-Type"].startswith("text/plain; version=0.0.4")
    assert "no-store" in answered["Cache-Control"]
    return {
        (one.name, tuple(value for _, value in sorted(one.labels.items()))): one.value
        for family in text_string_to_metric_families(answered.content.decode())
        for one in family.samples
    }


def test_without_a_token_there_is_no_such_address(client: Client, settings):
    assert settings.METRICS_TOKEN == ""
    for asked in (client.get("/metrics", headers=HEADERS), client.post("/metrics")):
        assert asked.status_code == 404
    empty = client.get("/metrics", headers={"authorization": "Bearer "})
    assert empty.status_code == 404


@pytest.mark.parametrize("given", ["", "Bearer", f"Bearer {TOKEN}x", f"Basic {TOKEN}", TOKEN])
def test_with_another_token_nothing_is_told(watcher: Client, given: str):
    answered = Client().get("/metrics", headers={"authorization": given})
    assert answered.status_code == 401
    assert answered["WWW-Authenticate"] == "Bearer"
    assert b"showrun" not in answered.content
    assert watcher.post("/metrics").status_code == 405


@pytest.fixture
def day(watcher: Client) -> Show:
    """A show an hour into its judging, with something of everything to look at."""
    show = build_show(kin=False)
    open_window(show)
    office = office_of(show)
    first, second, third = (judge_of(show, code) for code in ("J1", "J2", "J3"))
    heard, _ = pair(first)
    wagon = Entry.objects.filter(pk__in=first.seats.values("entry")).earliest("number")
    send(heard, card_events(first, wagon), at=AT)
    send(heard, [concern(wagon, "stop", "Rein of Cook 1 is worn through")], unsent=0, at=AT)
    send(heard, [mark(wagon, "no-such-row", 3)], at=AT)
    silent, _ = pair(second)
    Device.objects.filter(pk=silent.pk).update(last_seen_at=AT - timedelta(hours=2), unsent=7)
    pair(third)
    Device.objects.filter(judge=third).update(last_seen_at=None)
    Question.objects.create(
        judge=second, entry=wagon, statistic=4.0, threshold=3.5, alpha=0.05, asked_at=AT,
        sentence="Did Cook 1 earn 9?",
    )  # fmt: skip
    papers = (
        ("signs", 40, Paper.State.WANTED), ("plates", 90, Paper.State.WANTED),
        ("wall", 10, Paper.State.DRAWING), ("study", 500, Paper.State.FAILED),
    )  # fmt: skip
    for kind, ago, state in papers:
        Paper.objects.create(
            show=show, kind=kind, version=1, state=state, code=f"CODE{kind}",
            wanted_at=AT - timedelta(seconds=ago), wanted_by=office,
        )  # fmt: skip
    return show


def test_what_a_show_day_needs_is_told(watcher: Client, day: Show):
    told = figures(watcher)
    of = (day.slug,)
    assert told["showrun_shows_running", ()] == 1
    assert told["showrun_phones_paired", of] == 3
    assert told["showrun_phones_silent", of] == 2
    assert told["showrun_phones_unsynced", of] == 1
    assert told["showrun_touches_unsent", of] == 7
    assert told["showrun_phone_longest_silence_seconds", of] == 7200
    assert told["showrun_questions_open", of] == 1
    assert told["showrun_concerns_unseen", of] == SafetyConcern.objects.count() == 1
    assert told["showrun_touches_held", of] == 1
    assert told["showrun_papers", ("wanted",)] == 2
    assert told["showrun_papers", ("drawing",)] == 1
    assert told["showrun_papers", ("failed",)] == 1
    assert told["showrun_papers", ("done",)] == 0
    assert told["showrun_oldest_wanted_paper_seconds", ("bulk",)] == 90
    assert told["showrun_oldest_wanted_paper_seconds", ("urgent",)] == 10
    assert told["showrun_offers_not_mailed", of] == 0
    assert told["showrun_broker_up", ()] == 1
    assert {key[1] for key in told if key[0] == "showrun_queue_length"} == {
        ("default",), ("urgent",), ("bulk",), ("plans",)
    }  # fmt: skip
    assert told["showrun_data_free_bytes", ()] > 0


def test_a_visit_is_late_once_it_is_over_and_its_card_not_in(watcher: Client, day: Show):
    visits = Window.objects.get(show=day).visits
    over = visits.filter(ends_at__lt=AT).count()
    handed_in = visits.filter(ends_at__lt=AT, judge=judge_of(day), entry=entry_of(day)).count()
    assert over > 1
    assert figures(watcher)["showrun_visits_late", (day.slug,)] == over - handed_in
    Window.objects.filter(show=day).update(published_at=None)
    assert figures(watcher)["showrun_visits_late", (day.slug,)] == 0


def test_a_show_long_over_is_not_told_of(watcher: Client, day: Show):
    Show.objects.filter(pk=day.pk).update(ends_on=AT.date() - timedelta(days=3))
    assert not [key for key in figures(watcher) if day.slug in key[1]]


def test_as_many_queries_for_three_shows_as_for_one(watcher: Client, day: Show):
    figures(watcher)
    with CaptureQueriesContext(
        connection,
    ) as one:
        figures(watcher)
    for slug in ("four-pots", "five-pans"):
        more = build_show(slug=slug, n_entries=2, n_judges=2, kin=False)
        open_window(more)
        pair(judge_of(more))
    with CaptureQueriesContext(connection) as three:
        told = figures(watcher)
    assert told["showrun_phones_paired", ("five-pans",)] == 1
    assert len(three) == len(one)


def test_nobody_is_named(watcher: Client, day: Show):
    text = watcher.get("/metrics").content.decode()
    names = [*Judge.objects.values_list("person__name", "person__email", "code").all()]
    names += [(entry.exhibitor.name, entry.exhibitor.email, entry.wagon_name)
              for entry in Entry.objects.select_related("exhibitor")]  # fmt: skip
    tokens = Device.objects.values_list("token_hash", "label")
    for secret in {one for row in [*names, *tokens] for one in row if len(one) > 2}:
        assert secret not in text
    assert "Rein of" not in text
    assert "@" not in text


# -- what the web processes count -------------------------------------------------------------


def grown(before: dict, after: dict) -> dict[tuple[str, tuple[str, ...]], float]:
    return {
        key: value - before.get(key, 0)
        for key, value in after.items()
        if value != before.get(key, 0)
    }


def requests_in(found: dict) -> dict[tuple[str, ...], float]:
    return {key[1]: n for key, n in found.items() if key[0] == "showrun_http_requests_total"}


def test_requests_are_counted_by_group_and_status(watcher: Client, show: Show, judge: Judge):
    before = figures(watcher)
    client = Client()
    client.get("/healthz")
    client.get(f"/shows/{show.slug}/")
    client.get("/shows/nowhere/")
    client.get(f"/api/v1/shows/{show.slug}")
    client.post("/api/v1/device/events", {}, content_type="application/json")
    client.get("/somebody@showrun.example/secret")
    client.generic("PROPFIND", "/")
    found = grown(before, figures(watcher))
    assert requests_in(found) == {
        ("health", "GET", "200"): 1,
        ("judging", "GET", "200"): 1,
        ("judging", "GET", "404"): 1,
        ("api", "GET", "200"): 1,
        ("device", "POST", "401"): 1,
        ("unknown", "GET", "404"): 1,
        ("reports", "other", "405"): 1,
        ("metrics", "GET", "200"): 1,
    }
    assert found["showrun_http_request_seconds_count", ("judging",)] == 2
    buckets = [n for key, n in found.items() if key[0] == "showrun_http_request_seconds_bucket"
               and key[1][0] == "judging"]  # fmt: skip
    assert max(buckets) == 2
    assert "somebody" not in watcher.get("/metrics").content.decode()


def test_a_fault_of_ours_is_counted(watcher: Client, monkeypatch: pytest.MonkeyPatch):
    def broken(*_: Any, **__: Any) -> None:
        raise RuntimeError

    monkeypatch.setattr("reports.web.home.render", broken)
    before = figures(watcher)
    Client(raise_request_exception=False).get("/")
    assert requests_in(grown(before, figures(watcher)))["reports", "GET", "500"] == 1


@pytest.fixture
def no_mail(monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(*_: Any) -> None:
        raise ConnectionRefusedError

    monkeypatch.setattr(locmem.EmailBackend, "send_messages", refused)


def test_a_mail_that_fails_is_counted_without_its_reader(watcher: Client, no_mail: None):
    before = figures(watcher)
    who = PersonFactory.create()
    Client().post("/sign-in/", {"email": who.email})
    found = grown(before, figures(watcher))
    assert found["showrun_mails_failed_total", ("sign-in link",)] == 1
    assert not re.search(re.escape(who.email), watcher.get("/metrics").content.decode())
