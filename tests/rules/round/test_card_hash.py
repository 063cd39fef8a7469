"""A card's fingerprint, on the vectors the phone is held to as well."""

from __future__ import annotations

import hashlib
import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from judging.rules.cards.scorecard import Mark, MarkState
from judging.rules.round.card_hash import card_hash, plain_number

VECTORS = json.loads(
    (Path(__file__).parents[2] / "vectors/card_hashes.json").read_text(encoding="utf-8")
)


def marks_of(vector: dict[str, Any]) -> dict[str, Mark]:
    """The vector's marks as values."""
    return {
        code: Mark(
            MarkState(mark["state"]), None if mark["value"] is None else Decimal(mark["value"])
        )
        for code, mark in vector["marks"].items()
    }


@pytest.mark.parametrize("vector", VECTORS, ids=[vector["why"] for vector in VECTORS])
def test_vector(vector: dict[str, Any]) -> None:
    lines = "\n".join(vector["lines"]).encode()
    assert vector["hash"] == hashlib.sha256(lines).hexdigest(), "the vector itself"
    assert card_hash(marks_of(vector)) == vector["hash"]


@pytest.mark.parametrize(
    ("value", "plain"),
    [("0", "0"), ("0.00", "0"), ("1E+2", "100"), ("100", "100"), ("2.50", "2.5"), ("0.05", "0.05")],
)
def test_numbers_are_written_one_way(value: str, plain: str) -> None:
    assert plain_number(Decimal(value)) == plain
