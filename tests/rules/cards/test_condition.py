"""When a criterion applies to a rig, on the vectors the phone is held to as well."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from entries.rules.rig import FACTS
from judging.rules.cards.condition import applies, check

VECTORS = json.loads(
    (Path(__file__).parents[2] / "vectors/conditions.json").read_text(encoding="utf-8")
)


@pytest.mark.parametrize("vector", VECTORS, ids=[vector["why"] for vector in VECTORS])
def test_vector(vector: dict[str, Any]) -> None:
    assert applies(vector["condition"], vector["facts"]) is vector["expected"]


def test_every_fact_with_every_value_is_taken() -> None:
    check({name: [member.value for member in kind] for name, kind in FACTS.items()})
    check({})


@pytest.mark.parametrize(
    ("condition", "words"),
    [
        ({"wheels": ["iron"]}, "no fact"),
        ({"tongue": ["iron"]}, "no value of tongue"),
        ({"tongue": ["drop", "Drop"]}, "“Drop”"),
        ({"tongue": []}, "never apply"),
        ({"hitch": ["team"], "draft": ["rope"]}, "no value of draft"),
    ],
)
def test_a_condition_nobody_can_mean_is_refused(
    condition: dict[str, list[str]], words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        check(condition)
