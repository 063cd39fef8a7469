"""Nobody's name, address, token or code comes into the log: the main doors, opened one by one."""

from __future__ import annotations

import json
import logging
import re

import pytest
from django.core import mail
from django.test import Client

from entries.models import CrewMember, Entry
from judging.models import Device, Judge
from showrun.shows.models import Person, Show
from tests.http_phone import Phone
from tests.judged_show import build_show, card_events, judge_of, office_of, open_window

pytestmark = pytest.mark.django_db


def all_logged(caplog: pytest.LogCaptureFixture) -> str:
    """Every line, formatted and raw, with its tracebacks and what was put into it."""
    # Django hangs the request itself on some lines; what is printed of a line leaves it out.
    told = [{k: v for k, v in vars(one).items() if k != "request"} for one in caplog.records]
    (printing,) = [one for one in logging.getLogger().handlers if one.name == "stderr"]
    printed = [printing.format(one) for one in caplog.records]
    return "\n".join([caplog.text, *map(str, told), *printed])


def walked(show: Show, pages: Client) -> list[int]:
    """Open the main doors as the office."""
    slug, entry = show.slug, Entry.objects.filter(show=show).earliest("number")
    paths = [
        "/", f"/shows/{slug}/", f"/shows/{slug}/office/", f"/shows/{slug}/office/entries/",
        f"/shows/{slug}/office/people/", f"/shows/{slug}/office/messages/",
        f"/shows/{slug}/office/money/", f"/entries/{entry.pk}/", f"/api/v1/shows/{slug}",
        f"/api/v1/shows/{slug}/judges", f"/api/v1/shows/{slug}/progress", "/readyz",
        f"/shows/{slug}/office/people/?q=Cook%201", "/nowhere/?email=cook1@showrun.example",
    ]  # fmt: skip
    return [pages.get(path).status_code for path in paths]


def test_the_main_doors_log_nobody(caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.DEBUG)
    show = build_show(n_entries=2, n_judges=2, kin=False)
    open_window(show)
    judge, office = judge_of(show), office_of(show)
    pages = Client(headers={"referer": "http://testserver/?sesame=kept-from-the-log"})
    for email in (office.email, "nobody.yet@showrun.example"):
        pages.post("/sign-in/", {"email": email})
    links = [re.search(r"\S+[?&](?:sesame|token)=([^&\s]+)", str(one.body)) for one in mail.outbox]
    secrets = {found[1] for found in links if found}
    assert len(secrets) == 2
    pages.force_login(office)
    statuses = walked(show, pages)
    assert statuses.count(200) >= 9, statuses
    code = pages.post(
        f"/api/v1/judges/{judge.pk}/pairings", {}, content_type="application/json"
    ).json()["code"]
    phone = Phone(judge)
    entry = Entry.objects.filter(pk__in=judge.seats.values("entry")).earliest("number")
    phone.send(card_events(judge, entry))
    phone.send([{"kind": "remark", "entry": entry.pk, "section": "?", "text": "Ask Cook 1"}])
    phone.http.get("/api/v1/device/round", headers={"authorization": "Bearer not-a-token-at-all"})
    Client(raise_request_exception=False).post(
        "/api/v1/device/pair", json.dumps({"code": code}), content_type="application/json"
    )
    text = all_logged(caplog)
    assert "GET /" in text
    assert "POST /api/v1/device/events" in text
    secrets |= {code, code.replace("-", ""), phone.token, "not-a-token-at-all", "kept-from-the-log"}
    secrets |= {"nobody.yet", "Ask Cook", "sesame=", "cook1@showrun"}
    secrets |= set(Person.objects.values_list("email", flat=True))
    secrets |= set(Person.objects.values_list("name", flat=True))
    secrets |= set(CrewMember.objects.values_list("name", flat=True))
    secrets |= set(Device.objects.values_list("token_hash", flat=True))
    assert Judge.objects.count() == 2
    found = sorted(secret for secret in secrets if secret in text)
    assert found == []
