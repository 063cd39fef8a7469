"""The phone's own rules give what the server's give, on the same vectors."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from playwright.sync_api import Browser, Page

from judging.rules.cards.condition import applies
from judging.rules.round.card_hash import card_hash
from tests.browser.conftest import as_marks
from tests.browser.round_page import SCRIPT, RoundPage
from tests.drawn_cards import CONDITIONS, RIG_FACTS, RIGS
from tests.live import LiveShow

pytestmark = pytest.mark.browser


VECTORS = Path(__file__).parents[1] / "vectors"


@pytest.fixture(scope="module")
def opened(browser: Browser, live_show: LiveShow) -> Iterator[Page]:
    """The page without a judge, opened once: what is asked of its rules changes nothing."""
    context = browser.new_context()
    opened = RoundPage(context.new_page(), live_show.url)
    opened.open()
    yield opened.page
    assert opened.faults == []
    context.close()


def read(name: str) -> list[dict]:  # type: ignore[type-arg]
    """Return the vectors of a file."""
    found = json.loads((VECTORS / name).read_text())
    assert found
    return list(found)


def test_conditions_hold_alike(opened):
    vectors = read("conditions.json")
    on_phone = opened.evaluate(
        f"""async vectors => {{
            const {{ applies }} = await import('{SCRIPT}');
            return vectors.map(({{ condition, facts }}) => applies(condition, facts));
        }}""",
        vectors,
    )
    expected = [vector["expected"] for vector in vectors]
    assert on_phone == expected
    assert [applies(v["condition"], v["facts"]) for v in vectors] == expected


# Also what no checked card has: empty lists, words nobody knows, rigs that tell little.
WORDS = st.sampled_from(
    [*RIG_FACTS, *(value for values in RIG_FACTS.values() for value in values), "", "toString"]
)
ODD = st.dictionaries(WORDS, st.lists(WORDS, max_size=3), max_size=3)


def drawn_cases() -> list[dict[str, Any]]:
    """A few hundred conditions with rigs, the same ones in every run."""
    cases: list[dict[str, Any]] = []

    @settings(derandomize=True, database=None, deadline=None, max_examples=400)
    @given(
        CONDITIONS | ODD | st.lists(ODD, max_size=3),
        RIGS | st.dictionaries(WORDS, WORDS, max_size=4),
    )
    def draw(condition: Any, facts: dict[str, str]) -> None:
        cases.append({"condition": condition, "facts": facts})

    draw()
    return cases


def test_drawn_conditions_hold_alike(opened):
    cases = drawn_cases()
    expected = [applies(case["condition"], case["facts"]) for case in cases]
    assert min(expected.count(True), expected.count(False)) > 50, "both answers are looked at"
    assert sum(isinstance(case["condition"], list) for case in cases) > 50
    on_phone = opened.evaluate(
        f"""async cases => {{
            const {{ applies }} = await import('{SCRIPT}');
            return cases.map(({{ condition, facts }}) => applies(condition, facts));
        }}""",
        cases,
    )
    differing = [
        case for case, here, there in zip(cases, expected, on_phone, strict=True) if here != there
    ]
    assert differing == []


def test_card_hashes_are_the_same(opened):
    vectors = read("card_hashes.json")
    on_phone = opened.evaluate(
        f"""async vectors => {{
            const {{ cardHash, cardLines }} = await import('{SCRIPT}');
            return Promise.all(vectors.map(async ({{ marks }}) =>
                ({{ lines: cardLines(marks), hash: await cardHash(marks) }})));
        }}""",
        vectors,
    )
    assert on_phone == [{"lines": v["lines"], "hash": v["hash"]} for v in vectors]
    assert [card_hash(as_marks(v["marks"])) for v in vectors] == [v["hash"] for v in vectors]


def test_the_pace_clock_says_the_same(opened):
    vectors = read("pace.json")
    on_phone = opened.evaluate(
        f"""async vectors => {{
            const {{ pace }} = await import('{SCRIPT}');
            return vectors.map(({{ stops, now_s }}) => pace(stops, now_s));
        }}""",
        vectors,
    )
    assert on_phone == [vector["expected"] for vector in vectors]


def test_the_pad_offers_every_step_from_zero_to_the_maximum(opened):
    found = opened.evaluate(
        f"""async () => {{
            const {{ marksOf }} = await import('{SCRIPT}');
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
