"""The phone's own rules give what the server's give, on the same vectors."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from judging.rules.cards.condition import applies
from judging.rules.round.card_hash import card_hash
from tests.browser.conftest import as_marks

pytestmark = pytest.mark.browser

VECTORS = Path(__file__).parents[1] / "vectors"
HOME = "/static/judging/offline"


def read(name: str) -> list[dict]:  # type: ignore[type-arg]
    """Return the vectors of a file."""
    found = json.loads((VECTORS / name).read_text())
    assert found
    return list(found)


def test_conditions_hold_alike(phone):
    vectors = read("conditions.json")
    phone.open()
    on_phone = phone.page.evaluate(
        f"""async vectors => {{
            const {{ applies }} = await import('{HOME}/condition.js');
            return vectors.map(({{ condition, facts }}) => applies(condition, facts));
        }}""",
        vectors,
    )
    expected = [vector["expected"] for vector in vectors]
    assert on_phone == expected
    assert [applies(v["condition"], v["facts"]) for v in vectors] == expected


def test_card_hashes_are_the_same(phone):
    vectors = read("card_hashes.json")
    phone.open()
    on_phone = phone.page.evaluate(
        f"""async vectors => {{
            const {{ cardHash, cardLines }} = await import('{HOME}/card.js');
            return Promise.all(vectors.map(async ({{ marks }}) =>
                ({{ lines: cardLines(marks), hash: await cardHash(marks) }})));
        }}""",
        vectors,
    )
    assert on_phone == [{"lines": v["lines"], "hash": v["hash"]} for v in vectors]
    assert [card_hash(as_marks(v["marks"])) for v in vectors] == [v["hash"] for v in vectors]


def test_the_pad_offers_every_step_from_zero_to_the_maximum(phone):
    phone.open()
    found = phone.page.evaluate(
        f"""async () => {{
            const {{ marksOf }} = await import('{HOME}/number.js');
            return [['3', '1'], ['2', '0.5'], ['1', '0.25'], ['0.3', '0.1'], ['10', '5']]
                .map(([max_mark, step]) => marksOf({{ max_mark, step }}));
        }}"""
    )
    assert found == [
        ["0", "1", "2", "3"],
        ["0", "0.5", "1", "1.5", "2"],
        ["0", "0.25", "0.5", "0.75", "1"],
        ["0", "0.1", "0.2", "0.3"],
        ["0", "5", "10"],
    ]


def test_the_card_shows_the_rows_of_the_rig_and_no_others(phone, live_show):
    phone.pair(live_show.pairing_link("abara"))
    given = phone.server_round()
    for visit in given["visits"][:4]:
        rows = [
            row["code"]
            for section in given["card"]["sections"]
            if section["code"] in visit["sections"]
            for row in section["criteria"]
            if applies(row["applies"], visit["entry"]["rig"])
        ]
        phone.open_card(visit["entry"]["id"])
        assert phone.rows() == rows
        phone.to_list()
