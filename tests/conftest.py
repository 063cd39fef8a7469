"""What every test may use: the cast of people, and the moment the tests take place at."""

from __future__ import annotations

import gc
import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime

import pytest
from django.core.cache import cache
from django.db import connection
from hypothesis import HealthCheck, settings

from judging.tasks import plan_job_task
from tests.migrated import put_migrated
from tests.mutation.kept import forget_what_is_kept
from tests.people import (  # noqa: F401  fixtures
    conflicted_judge,
    entry,
    exhibitor,
    judge,
    office,
    other_entry,
    other_exhibitor,
    scorecard,
    show,
    steward,
    stranger,
    trail,
)
from tests.tampered import let_flush_empty_guarded_tables
from tests.warm_show import WarmShow

# What holds for all is tried with so many made-up cases, where a test does not ask for another
# number. `--hypothesis-profile=thorough` tries many more.
# The first made-up text on a machine waits for tables of letters: how long is nobody's fault.
SLOW_START = (HealthCheck.too_slow,)
settings.register_profile("everyday", max_examples=40, suppress_health_check=SLOW_START)
settings.register_profile("thorough", max_examples=1_000, deadline=None)
settings.load_profile("everyday")
# For `tests/mutation`: the same cases every time, and a slow machine is no fault.
settings.register_profile(
    "mutation", deadline=None, derandomize=True, database=None, max_examples=25
)

# Stories that take minutes come first, so that at the end no core waits for another's last file.
LONGEST = (
    "tests/flows/test_demo_run.py",
    "tests/house/test_static.py",
    "tests/browser/test_every_page.py",
    "tests/browser/test_walk_judge.py",
    "tests/services/",
    "tests/browser/",
    "tests/flows/",
    "tests/doors/test_access_",
)


def pytest_sessionstart(session: pytest.Session) -> None:
    """A mutant answers for itself: nothing stays that the code said before it was put in."""
    if session.config.getoption("--hypothesis-profile", default=None) == "mutation":
        forget_what_is_kept()


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the files that take longest first; the others stay in their order."""

    def rank(item: pytest.Item) -> int:
        where = item.nodeid
        return next((n for n, start in enumerate(LONGEST) if where.startswith(start)), len(LONGEST))

    items.sort(key=rank)


def pytest_collection_finish() -> None:
    """What is there by now stays: let the collector of garbage not look through it again."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 50)


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    django_db_modify_db_settings_parallel_suffix: None, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[None]:
    """Begin with the kept migrated database; only what it lacks is then migrated in memory."""
    if connection.vendor != "sqlite" or not os.environ.get("TEST_KEPT"):
        yield  # PostgreSQL is told of a template by `settings/test.py`
        return
    put_migrated(file := tmp_path_factory.mktemp("kept") / "migrated.sqlite3")
    memory = connection.creation._get_test_db_name()  # type: ignore[attr-defined]
    # Memory that connections share is there as long as one of them is.
    with closing(sqlite3.connect(memory, uri=True)) as held:
        with closing(sqlite3.connect(file)) as kept:
            kept.backup(held)
        yield


@pytest.fixture(scope="session", autouse=True)
def emptied_between_tests() -> Iterator[None]:
    """Tables whose lines are only added are emptied as all others."""
    with pytest.MonkeyPatch.context() as patch:
        let_flush_empty_guarded_tables(patch)
        yield


@pytest.fixture
def at() -> datetime:
    """The morning of judging."""
    return datetime(2027, 5, 15, 15, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def fresh_limits():
    """No test is refused because an earlier one asked too often."""
    cache.clear()


@pytest.fixture
def queued(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The plans that were put to the queue; no broker is needed."""
    asked: list[int] = []
    monkeypatch.setattr(plan_job_task, "delay", lambda **told: asked.append(told["job_id"]))
    return asked


@pytest.fixture(scope="session")
def live_show(tmp_path_factory: pytest.TempPathFactory):
    """The invented show, served by a real web server of its own."""
    live = WarmShow(tmp_path_factory.mktemp("live"))
    live.prepare()
    live.start_web()
    yield live
    live.close()
