"""The stage of the phone's doors: a published window, a judge and their paired phone."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from judging.models import Judge
from showrun.shows.models import Show
from tests.http_phone import Phone
from tests.judged_show import build_show, judge_of, open_window
from tests.kept import kept_for_module


@pytest.fixture(scope="module")
def built(django_db_setup: None, django_db_blocker: Any) -> Iterator[int]:
    """A show whose panel is drawn and whose window is published."""
    with kept_for_module(django_db_blocker):
        show = build_show()
        open_window(show)
        yield show.pk


@pytest.fixture
def show(built: int, db: None) -> Show:
    return Show.objects.get(pk=built)


@pytest.fixture
def judge(show: Show) -> Judge:
    return judge_of(show, "J1")


@pytest.fixture
def phone(judge: Judge) -> Phone:
    return Phone(judge)
