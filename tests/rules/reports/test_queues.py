"""Who waits at a table is served before the sheets of a whole show."""

from __future__ import annotations

import pytest

from reports.models import Paper
from reports.rules.queues import BULK, URGENT, WAITED_FOR, queue_of


def test_every_kind_waits_in_one_of_two_queues():
    assert set(Paper.Kind.values) >= WAITED_FOR
    assert {queue_of(kind) for kind in Paper.Kind.values} == {BULK, URGENT}


@pytest.mark.parametrize("kind", ["receipt", "card", "wall", "calls"])
def test_what_somebody_stands_waiting_for_is_urgent(kind: str):
    assert queue_of(kind) == URGENT


@pytest.mark.parametrize("kind", ["feedback", "award", "bundle", "book", "study", "plates"])
def test_what_is_made_by_the_hundred_or_takes_long_is_not(kind: str):
    assert queue_of(kind) == BULK
