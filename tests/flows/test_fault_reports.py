"""What a collector of faults is sent: where the code broke, and nothing of anybody."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest

from showrun.project.settings.faults import chosen
from tests.live import ROOT
from tests.migrated import put_migrated

# In a process of its own: the library, once started, stays in all of it.
BREAK = """
import json, logging, sys
from unittest import mock
import django
from sentry_sdk.transport import Transport
import sentry_sdk

sent = []

class Kept(Transport):
    def capture_envelope(self, envelope):
        sent.append(envelope.serialize().decode())

# The settings start it as they would on a server; only the line to the collector is ours.
with mock.patch("sentry_sdk.client.make_transport", lambda options: Kept(options)):
    django.setup()
assert sentry_sdk.get_client().is_active()
import httpx
from showrun.project.wsgi import application

def broken(*_, **__):
    whose = "Ada Moor"
    raise RuntimeError(f"{whose} <ada.moor@showrun.example> said seven-kettles")

client = httpx.Client(
    base_url="http://localhost", transport=httpx.WSGITransport(application), headers={
    "authorization": "Bearer token-of-a-phone", "cookie": "sessionid=cookie-of-ada",
    "x-forwarded-for": "203.0.113.7",
})
with mock.patch("reports.web.home.render", broken):
    assert client.get("/?sesame=a-link-that-signs-in").status_code == 500
with mock.patch("judging.api.device.read_body", broken):
    sent_json = {"code": "ada.moor@showrun.example"}
    assert client.post("/api/v1/device/pair?x=entries/ada", json=sent_json).status_code == 500
logging.getLogger("judging.x").error("no mail for %s", "ada.moor@showrun.example")
logging.getLogger("judging.x").error("no mail for ada.moor@showrun.example")
from reports.tasks import draw_paper_task
with mock.patch("reports.tasks.draw_paper", broken):
    draw_paper_task.apply(kwargs={"paper_id": "code-7Q4X"})
sentry_sdk.flush()
print(json.dumps(sent))
"""
SECRETS = (
    *("Ada", "ada.moor", "seven-kettles", "token-of-a-phone", "cookie-of-ada", "203.0.113.7"),
    *("a-link-that-signs-in", "entries/ada", "7Q4X"),
)


def run(script: str, folder: Path, **more: str) -> str:
    env = {name: value for name, value in os.environ.items() if not name.startswith("SENTRY")}
    env |= {
        "DJANGO_SETTINGS_MODULE": "showrun.project.settings",
        "SHOWRUN_DATA": str(folder),
        "DATABASE_URL": f"sqlite:///{folder}/show.sqlite3",
        "BROKER_URL": "memory://",
        "LOG_LEVEL": "ERROR",
        **more,
    }
    done = subprocess.run(
        [sys.executable, "-c", script], env=env, cwd=ROOT, capture_output=True, text=True,
        check=False, timeout=120,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-2000:]
    return done.stdout


@pytest.fixture(scope="module")
def envelopes(tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    """All that left a process in which much broke."""
    folder = tmp_path_factory.mktemp("data")
    put_migrated(folder / "show.sqlite3")
    told = run(
        BREAK, folder,
        SENTRY_DSN="https://key@collector.showrun.example/1", SENTRY_ENVIRONMENT="rehearsal",
    )  # fmt: skip
    return list(json.loads(told.splitlines()[-1]))


@pytest.fixture(scope="module")
def events(envelopes: list[str]) -> list[dict[str, Any]]:
    """The events in them: each is the last line of its envelope."""
    found = [json.loads(one.strip().splitlines()[-1]) for one in envelopes]
    return [one for one in found if "level" in one]


def test_where_it_broke_is_told(events: list[dict[str, Any]]) -> None:
    faults = [one for one in events if "exception" in one]
    assert [one.get("request") for one in faults] == [{"method": "GET"}, {"method": "POST"}, None]
    for one in faults:
        (fault,) = one["exception"]["values"]
        assert fault["type"] == "RuntimeError"
        assert "value" not in fault
        assert fault["stacktrace"]["frames"][-1]["function"] == "broken"
        assert all("vars" not in frame for frame in fault["stacktrace"]["frames"])
    assert faults[0]["transaction"] == "/"
    assert faults[2]["transaction"] == "reports.tasks.draw_paper_task"


def test_the_release_is_set(events: list[dict[str, Any]]) -> None:
    version = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["version"]
    assert events
    assert {one["release"] for one in events} == {f"showrun@{version}"}
    assert {one["environment"] for one in events} == {"rehearsal"}


def test_a_line_of_the_log_is_told_as_it_stands_in_the_code(events: list[dict[str, Any]]) -> None:
    lines = [one["logentry"]["message"] for one in events if "logentry" in one]
    assert lines == ["no mail for %s", "a line of judging.x"]


def test_nothing_of_anybody_is_sent(envelopes: list[str]) -> None:
    assert len(envelopes) >= 5
    for secret in SECRETS:
        assert [one for one in envelopes if secret in one] == [], secret


def test_what_is_not_chosen_stays_here() -> None:
    event = {
        "event_id": "1", "user": {"id": 7}, "extra": {"celery-job": {"kwargs": {}}},
        "breadcrumbs": {"values": [{"message": "Ada"}]}, "tags": {"who": "Ada"},
        "contexts": {"runtime": {"name": "CPython"}, "trace": {"data": {"url": "/?x"}}},
        "request": {"method": "GET", "url": "https://show.example/?x", "data": "Ada",
                    "query_string": "x", "headers": {}, "cookies": {}, "env": {}},
        "logentry": {"message": "x", "params": ["Ada"]},
    }  # fmt: skip
    assert chosen(event) == {
        "event_id": "1",
        "contexts": {"runtime": {"name": "CPython"}},
        "request": {"method": "GET"},
        "logentry": {"message": "a line of the log"},
    }


def test_without_an_address_nothing_is_started(tmp_path: Path) -> None:
    script = (
        "import sys, django; django.setup(); import showrun.project.urls; "
        "print('sentry_sdk' in sys.modules); import sentry_sdk; "
        "print(sentry_sdk.get_client().is_active())"
    )
    assert run(script, tmp_path).split() == ["False", "False"]
