"""Health, refusals, headers and logs: what every address has in common."""

from __future__ import annotations

import json
import logging
import os
import re
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from celery import current_app
from django.core import mail
from django.db import OperationalError, connection
from django.db.migrations.executor import MigrationExecutor
from django.test import Client
from django.urls import reverse
from sesame.utils import get_query_string

from entries.models import Entry
from judging.models import Judge
from showrun.shows.models import Person, Show
from showrun.shows.web import sign_in, standing
from tests.problems import problem

pytestmark = pytest.mark.django_db

# --- Health --------------------------------------------------------------------------------


def test_alive_and_ready(client: Client):
    for path in ("/healthz", "/readyz"):
        answered = client.get(path)
        assert (answered.status_code, answered.json()) == (200, {"status": "ok"})
        assert "no-store" in answered["Cache-Control"]
        assert client.post(path).status_code == 405


def test_alive_asks_nothing_of_the_database(client: Client, django_assert_num_queries: Any):
    with django_assert_num_queries(0):
        client.get("/healthz")


def test_not_ready_while_migrations_wait_or_the_database_is_gone(
    client: Client, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(MigrationExecutor, "migration_plan", lambda *_: [("one", False)])
    answered = client.get("/readyz")
    assert answered.status_code == 503
    assert answered.json() == {"status": "not ready", "wrong": ["1 migrations wait."]}

    def gone(*_: Any) -> None:
        raise OperationalError("connection refused, password hunter2")

    monkeypatch.setattr(MigrationExecutor, "migration_plan", gone)
    answered = client.get("/readyz")
    assert answered.status_code == 503
    assert answered.json()["wrong"] == ["The database does not answer."]
    assert b"hunter2" not in answered.content
    assert client.get("/healthz").status_code == 200


def test_without_a_broker_or_a_bucket_it_says_so_and_goes_on(
    client: Client, monkeypatch: pytest.MonkeyPatch, logged: pytest.LogCaptureFixture, settings
):
    settings.STORAGES = {**settings.STORAGES, "default": {
        "BACKEND": "storages.backends.s3.S3Storage",
        "OPTIONS": {"bucket_name": "b", "endpoint_url": "http://127.0.0.1:9", "access_key": "k",
                    "secret_key": "hunter2"},
    }}  # fmt: skip
    monkeypatch.setattr(current_app.conf, "broker_read_url", "redis://:hunter2@127.0.0.1:9/0")
    answered = client.get("/readyz")
    assert answered.status_code == 200
    assert answered.json()["status"] == "degraded"
    broker, bucket = answered.json()["wrong"]
    assert broker.startswith("The broker does not answer")
    assert bucket.endswith("the bucket does not answer.")
    assert b"hunter2" not in answered.content
    assert "hunter2" not in everything(logged)


def test_a_full_disk_or_a_folder_out_of_reach_is_said(
    client: Client, monkeypatch: pytest.MonkeyPatch, settings, tmp_path: Path
):
    monkeypatch.setattr(standing, "ROOM", 2**80)
    answered = client.get("/readyz")
    assert answered.json()["wrong"][0].startswith("The disk of the data has ")
    assert answered.status_code == (503 if connection.vendor == "sqlite" else 200)
    monkeypatch.setattr(standing, "ROOM", 0)
    settings.MEDIA_ROOT = tmp_path / "not/there/yet"
    assert client.get("/readyz").json() == {"status": "ok"}
    monkeypatch.setattr(os, "access", lambda *_: False)  # root may write anywhere
    answered = client.get("/readyz")
    assert answered.status_code == 200
    assert "their folder cannot be written to" in answered.json()["wrong"][0]


# --- Refusals ------------------------------------------------------------------------------


@pytest.mark.parametrize("path", ["/nowhere", "/shows", "/entries/x/", "/shows/a/b/c/"])
def test_an_unknown_page_is_said_plainly_in_html(client: Client, path: str):
    answered = client.get(path)
    assert answered.status_code == 404
    assert answered["Content-Type"].startswith("text/html")
    assert b"There is no page at this address" in answered.content


@pytest.mark.parametrize(
    "path", ["/api/", "/api/v1", "/api/v1/nowhere", "/api/v1/shows/", "/api/v2/me", "/api/v1/me/"]
)
def test_an_unknown_address_of_the_api_is_a_problem(client: Client, path: str):
    for answered in (client.get(path), client.post(path, {}, content_type="application/json")):
        problem(answered, 404, "not-found")


def test_a_show_that_is_not_there_on_page_and_api(client: Client):
    page = client.get("/shows/nowhere/")
    assert page.status_code == 404
    assert "refusal.html" in [template.name for template in page.templates]
    assert b"There is no show at this address." in page.content
    refused = problem(client.get("/api/v1/shows/nowhere"), 404, "not-found")
    assert refused["detail"] == "There is no show at this address."


def test_a_refusal_page_has_its_status_title_and_sentence(
    client: Client, show: Show, exhibitor: Person
):
    client.force_login(exhibitor)
    page = client.get(reverse("judging:panel", args=[show.slug]))
    assert page.status_code == 403
    assert "refusal.html" in [template.name for template in page.templates]
    assert (page.context["title"], page.context["status"]) == ("Not yours to do", 403)
    text = page.content.decode()
    assert "<h1>Not yours to do</h1>" in text
    assert page.context["detail"] in text


def test_a_refusal_shows_what_was_sent_as_text(client: Client, office: Person, show: Show):
    client.force_login(office)
    sent = {"wagon_name": "Tin", "classes": ["<script>alert(1)</script>"], "crew": [],
            "rig": {}}  # fmt: skip
    answered = client.post(
        f"/api/v1/shows/{show.slug}/entries", json.dumps(sent), content_type="application/json"
    )
    problem(answered, 422, "invalid-input")
    assert answered["X-Content-Type-Options"] == "nosniff"


def test_a_fault_of_ours_says_no_more_than_that(show: Show, monkeypatch: pytest.MonkeyPatch):
    def broken(*_: Any, **__: Any) -> None:
        raise RuntimeError("secret of the house")

    monkeypatch.setattr("judging.web.public.show_by_slug", broken)
    client = Client(raise_request_exception=False)
    answered = client.get(reverse("judging:show", args=[show.slug]))
    assert answered.status_code == 500
    assert b"secret of the house" not in answered.content
    assert b"Traceback" not in answered.content
    assert b"</html>" in answered.content


def test_a_page_posted_from_another_site_is_refused(office: Person, entry: Entry):
    client = Client(enforce_csrf_checks=True)
    client.force_login(office)
    sent = client.post(reverse("entries:decide", args=[entry.pk]), {"decision": "confirm"})
    assert sent.status_code == 403
    entry.refresh_from_db()
    assert entry.status == "entered"


# --- Headers -------------------------------------------------------------------------------

CSP = {
    "default-src": {"'none'"},
    "script-src": {"'self'"},
    "style-src": {"'self'"},
    "font-src": {"'self'"},
    "connect-src": {"'self'"},
    "manifest-src": {"'self'"},
    "worker-src": {"'self'"},
    "object-src": {"'none'"},
    "img-src": {"'self'", "data:"},
    "base-uri": {"'none'"},
    "frame-ancestors": {"'none'"},
    "form-action": {"'self'"},
}


@pytest.mark.parametrize(
    "path",
    ["/", "/healthz", "/sign-in/", "/nowhere", "/api/v1/shows", "/api/v1/nowhere", "/api/v1/me",
     "/round/", "/round/worker.js", "/shows/lantern-draw/", "/shows/lantern-draw/office/",
     "/shows/lantern-draw/enter/", "/papers/check/"],
)  # fmt: skip
def test_every_answer_carries_the_headers_that_protect_it(client: Client, show: Show, path: str):
    answered = client.get(path)
    assert answered["X-Content-Type-Options"] == "nosniff"
    assert answered["X-Frame-Options"] == "DENY"
    assert answered["Referrer-Policy"] == "same-origin"
    assert answered["Cross-Origin-Opener-Policy"] == "same-origin"
    assert answered["Cross-Origin-Resource-Policy"] == "same-origin"
    assert "camera=()" in answered["Permissions-Policy"]
    policy = {
        name: set(values)
        for name, *values in (
            part.split() for part in answered["Content-Security-Policy"].split(";")
        )
    }
    assert policy == CSP


def test_files_carry_the_policy_too(client: Client, db: None):
    answered = client.get("/static/show/mark.svg")
    assert answered.status_code == 200
    assert "default-src 'none'" in answered["Content-Security-Policy"]
    assert answered["X-Content-Type-Options"] == "nosniff"
    assert answered["Cross-Origin-Resource-Policy"] == "same-origin"


def test_no_page_needs_more_than_the_policy_gives(client: Client, show: Show, stranger: Person):
    """No inline script, style or handler, and nothing from another host."""
    asking = client.get("/sign-in/").content
    client.force_login(stranger)
    for path in ("/", "/nowhere", "/round/", f"/shows/{show.slug}/",
                 f"/shows/{show.slug}/enter/"):  # fmt: skip
        text = (client.get(path).content + asking).decode()
        assert not re.search(r"<script(?![^>]*\bsrc=)[^>]*>", text), path
        assert not re.search(r"\sstyle=|<style|\son[a-z]+=|javascript:", text), path
        loaded = re.findall(r'<(?:script|img|iframe)[^>]*\ssrc="?([^"\s>]+)', text)
        loaded += re.findall(r'<link[^>]*\shref="?([^"\s>]+)', text)
        assert loaded, path
        assert all(one.startswith(("/", "data:image/")) for one in loaded), loaded


def test_cookies_are_kept_from_scripts_and_other_sites(client: Client, stranger: Person):
    client.post(reverse("shows:sign-in"), {"email": stranger.email})
    session = client.cookies["sessionid"]
    assert session["httponly"] is True
    assert session["samesite"] == "Lax"


# --- Logs ----------------------------------------------------------------------------------


@pytest.fixture
def logged(caplog: pytest.LogCaptureFixture) -> pytest.LogCaptureFixture:
    caplog.set_level(logging.DEBUG)
    return caplog


def everything(logged: pytest.LogCaptureFixture) -> str:
    """All that was logged, raw and formatted, with tracebacks."""
    return logged.text + "".join(str(vars(record)["msg"]) for record in logged.records)


def test_a_sign_in_link_is_never_logged(
    client: Client, stranger: Person, logged: pytest.LogCaptureFixture
):
    token = parse_qs(get_query_string(stranger).lstrip("?"))["sesame"][0]
    path = reverse("shows:sign-in-link")
    assert client.get(f"{path}?sesame={token}").status_code == 200
    assert client.post(path, {"sesame": token}).status_code == 302
    assert client.get(f"{path}?sesame={token}").status_code == 410
    assert client.get(f"/nowhere?sesame={token}").status_code == 404
    text = everything(logged)
    assert f"GET {path}" in text, "the request itself is on the log"
    assert token not in text
    assert "sesame=" not in text


def test_a_link_for_a_new_person_is_never_logged(client: Client, logged: pytest.LogCaptureFixture):
    client.post(reverse("shows:sign-in"), {"email": "nobody.yet@showrun.example"})
    found = re.search(r"http\S+", str(mail.outbox[-1].body))
    assert found
    link = urlsplit(found.group())
    token = parse_qs(link.query)["token"][0]
    assert client.get(f"{link.path}?{link.query}").status_code == 200
    assert f"GET {link.path}" in everything(logged)
    # its parts, since a colon is written otherwise in an address
    assert not [part for part in token.split(":") if part in everything(logged)]
    assert "nobody.yet@showrun.example" not in everything(logged)


def test_not_even_a_fault_of_ours_logs_the_link(
    stranger: Person, logged: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
):
    token = parse_qs(get_query_string(stranger).lstrip("?"))["sesame"][0]

    def broken(*_: Any, **__: Any) -> None:
        raise RuntimeError("the store of sessions is gone")

    monkeypatch.setattr(sign_in, "get_user", broken)
    client = Client(raise_request_exception=False)
    answered = client.get(f"{reverse('shows:sign-in-link')}?sesame={token}")
    assert answered.status_code == 500
    assert "the store of sessions is gone" in everything(logged)
    assert token not in everything(logged)


def test_a_phones_token_and_code_are_never_logged(
    client: Client, judge: Judge, office: Person, logged: pytest.LogCaptureFixture
):
    client.force_login(office)
    asked = client.post(f"/api/v1/judges/{judge.pk}/pairings", {}, content_type="application/json")
    made = asked.json()
    phone, sent = Client(), {"code": made["code"]}
    paired = phone.post("/api/v1/device/pair", sent, content_type="application/json")
    token = paired.json()["token"]
    headers = {"authorization": f"Bearer {token}"}
    assert phone.get("/api/v1/device/round", headers=headers).status_code == 200
    text = everything(logged)
    assert "POST /api/v1/device/pair" in text
    for secret in (token, made["code"], made["code"].replace("-", "")):
        assert secret not in text


@pytest.mark.parametrize(("path", "kind"), [("/api/v1/shows", "problem+json"), ("/", "html")])
def test_a_fault_of_ours_is_told_in_the_shape_of_the_place(
    monkeypatch: pytest.MonkeyPatch, path: str, kind: str
):
    def broken(*_: Any, **__: Any) -> None:
        raise RuntimeError("password hunter2")

    monkeypatch.setattr("showrun.shows.api.views.ShowOut", broken)
    monkeypatch.setattr("reports.web.home.render", broken)
    answered = Client(raise_request_exception=False).get(path)
    assert answered.status_code == 500
    assert kind in answered["Content-Type"]
    assert b"hunter2" not in answered.content
