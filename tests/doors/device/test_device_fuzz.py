"""Batches nobody would send on purpose: never a fault of ours, and what is good is kept."""

from __future__ import annotations

import json
from typing import Any

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from judging.models import Judge, RoundEvent
from judging.rules.round.events import Kind
from tests.http_phone import Phone, first_entry
from tests.judged_show import build_show, judge_of, open_window, rows_of
from tests.round_events import mark

pytestmark = pytest.mark.django_db

FEW = settings(
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
SIGNS = st.text(max_size=12) | st.sampled_from(["\x00", "\ud800", "<b>", "=1+1", "1e400", "NaN"])
PLAIN = (
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    | SIGNS
)
ANY = st.recursive(
    PLAIN,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(SIGNS, inner, max_size=4),
    max_leaves=10,
)
# Events that look like one: the right names with any values in them.
NAMES = (
    *("id", "seq", "at", "kind", "entry", "criterion", "state", "value", "section", "text"),
    *("degree", "question", "verdict", "facts", "hash", "keyed_by"),
)
LIKE = st.dictionaries(st.sampled_from(NAMES), ANY, max_size=8).flatmap(
    lambda event: st.sampled_from([None, *Kind]).map(
        lambda kind: {**event, "kind": kind.value} if kind else event
    )
)


@pytest.fixture
def judge(db: None) -> Judge:
    show = build_show(n_entries=2)
    open_window(show)
    return judge_of(show)


@pytest.fixture
def phone(judge: Judge) -> Phone:
    return Phone(judge)


def body_of(events: Any, **more: Any) -> str:
    # As a phone sends it; a lone half of a sign is sent as its escape.
    return json.dumps({"unsent": 0, "events": events, **more})


@FEW
@given(events=st.lists(ANY | LIKE, max_size=5))
def test_whatever_is_in_a_batch_the_good_touch_in_it_is_taken(
    judge: Judge, phone: Phone, events: list[Any]
):
    entry = first_entry(judge)
    (good,) = phone.stamp([mark(entry, rows_of(judge, entry)[0].code, 5)])
    with transaction.atomic():
        answered = phone.post(body_of([*events, good]))
        assert answered.status_code == 200, answered.content
        told = answered.json()["results"]
        assert len(told) == len(events) + 1
        assert {one["status"] for one in told} <= {"applied", "held", "duplicate"}
        assert told[-1]["status"] == "applied"
        assert RoundEvent.objects.filter(pk=good["id"], applied=True).exists()
        transaction.set_rollback(True)


@FEW
@given(body=ANY | st.fixed_dictionaries({"unsent": ANY, "events": ANY, "sent_at": ANY}))
def test_whatever_a_body_is_it_is_answered_plainly(phone: Phone, body: Any):
    with transaction.atomic():
        answered = phone.post(json.dumps(body))
        assert answered.status_code in (200, 400, 413, 422), answered.content
        transaction.set_rollback(True)
