"""What a line of the record says was changed."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from showrun.shows.rules.changes import LONGEST, Fact, side_by_side

PLAIN = st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text()
JSON = st.recursive(
    PLAIN, lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner), max_leaves=12
)


@pytest.mark.parametrize(
    ("before", "after", "said"),
    [
        (None, None, []),
        ({"place_no": 1}, {"place_no": 2}, [Fact("place no", "1", "2")]),
        ({"a": 1}, {"b": ""}, [Fact("a", "1", ""), Fact("b", "", "none")]),
        ("open", "shut", [Fact("", "open", "shut")]),
        (None, {"rig": {"tongue": "drop", "all": [1]}}, [Fact("rig", "", "tongue drop")]),
        (None, {"days": [1, 2]}, [Fact("days", "", "1, 2")]),
        ({"on": False}, {"on": False}, [Fact("on", "no", "no")]),
    ],
)
def test_facts_stand_side_by_side(before: Any, after: Any, said: list[Fact]) -> None:
    assert side_by_side(before, after) == said


@settings(max_examples=60)
@given(JSON, JSON)
def test_whatever_is_kept_is_said_once_and_short(before: Any, after: Any) -> None:
    said = side_by_side(before, after)
    assert all(max(len(fact.before), len(fact.after)) <= LONGEST for fact in said)
    if isinstance(before, dict) and isinstance(after, dict):
        assert len(said) == len({*before, *after})
    assert all(not fact.changed for fact in side_by_side(after, after))
