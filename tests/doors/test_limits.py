"""How often one may ask, and that a judge's phone is never among those refused."""

from __future__ import annotations

import os
from uuid import uuid4

import pytest
from django.core.cache import caches
from django.test import Client
from django.urls import reverse

from entries.models import Entry
from reports.web.papers import CHECKS_ALLOWED
from showrun.project.counts_cache import CountsCache
from showrun.project.settings.counts import counts_in
from showrun.shows.models import Person, Show
from showrun.shows.web.limits import SPAN_S, count_asks
from tests.http_phone import Phone
from tests.judged_show import build_show, draw_panel, judge_of

pytestmark = pytest.mark.django_db


def test_codes_of_papers_cannot_be_tried_without_end(client: Client):
    address = reverse("reports:paper-check", args=["AAAA-BBBB-CCCC"])
    answers = [client.get(address) for _ in range(CHECKS_ALLOWED + 1)]
    assert {one.status_code for one in answers[:-1]} == {404}
    last = answers[-1]
    assert (last.status_code, last["Retry-After"]) == (429, str(SPAN_S))
    assert "Too many requests" in last.content.decode()
    assert "10 minutes" in last.content.decode()


@pytest.mark.parametrize(
    ("name", "allowed"), [("shows:sign-in-link", 60), ("shows:join", 60), ("shows:passkeys", 30)]
)
def test_tries_to_sign_in_are_counted(client: Client, stranger: Person, name: str, allowed: int):
    if name == "shows:passkeys":
        client.force_login(stranger)
    found = {client.post(reverse(name), {"token": "x"}).status_code for _ in range(allowed)}
    assert 429 not in found
    refused = client.post(reverse(name), {"token": "x"})
    assert (refused.status_code, refused["Retry-After"]) == (429, str(SPAN_S))
    assert client.get(reverse(name)).status_code != 429


def test_entering_and_asking_about_a_result_are_counted_for_each_person(
    client: Client, show: Show, entry: Entry, stranger: Person
):
    for who, address, allowed in (
        (entry.exhibitor, reverse("reports:my-entry", args=[entry.pk]), 20),
        (stranger, reverse("entries:enter", args=[show.slug]), 30),
    ):
        client.force_login(who)
        found = [client.post(address, {}).status_code for _ in range(allowed + 1)]
        assert found[-1] == 429
        assert 429 not in found[:-1]
    other = Client()
    other.force_login(entry.exhibitor)
    assert other.post(reverse("entries:enter", args=[show.slug]), {}).status_code != 429


def test_a_phones_batches_are_never_refused_for_being_many():
    show = build_show(n_entries=2)
    draw_panel(show)
    phone = Phone(judge_of(show))
    for _ in range(300):
        assert phone.post({"unsent": 0, "events": []}).status_code == 200


def test_people_go_on_where_the_cache_is_gone(settings, monkeypatch):
    """As a Redis that is not there answers: by an error, at once."""
    settings.CACHES = counts_in("redis://127.0.0.1:1/0")
    cache = caches.create_connection("default")
    assert isinstance(cache, CountsCache)
    monkeypatch.setattr("showrun.shows.web.limits.cache", cache)
    assert [count_asks("somebody") for _ in range(3)] == [1, 1, 1]
    assert cache.get("x", "none") == "none" and cache.delete("x") is False
    cache.set("x", 1)


@pytest.mark.services
def test_two_web_processes_share_the_count(settings, monkeypatch):
    url = os.environ.get("TEST_REDIS_URL")
    if not url:
        pytest.skip("needs a redis: TEST_REDIS_URL names none")
    settings.CACHES = counts_in(url)
    who, found = uuid4().hex, []
    for _ in range(2):  # a connection each, as two processes have
        monkeypatch.setattr("showrun.shows.web.limits.cache", caches.create_connection("default"))
        found += [count_asks(who), count_asks(who)]
    assert found == [1, 2, 3, 4]
