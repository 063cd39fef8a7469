"""When a criterion applies to a rig, on the vectors the phone is held to as well."""

from __future__ import annotations

import json
from contextlib import suppress
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from django.utils import translation
from hypothesis import given
from hypothesis import strategies as st

from entries.rules.rig import FACTS
from judging.rules.cards.condition import (
    applies,
    check,
    condition_words,
    every_rig,
    in_words,
    quoted,
    rigs_met,
)
from tests.drawn_cards import BRANCHES, CONDITIONS, RIG_FACTS

VECTORS = json.loads(
    (Path(__file__).parents[2] / "vectors/conditions.json").read_text(encoding="utf-8")
)
Rig = tuple[str, ...]


def rigs_by_hand(condition: Any) -> set[Rig]:
    """The rigs a condition means, put together from its values instead of asked one by one."""
    branches = condition if isinstance(condition, list) else [condition]
    return {
        rig
        for branch in branches
        for rig in product(*(branch.get(fact, values) for fact, values in RIG_FACTS.items()))
    }


def as_facts(rig: Rig) -> dict[str, str]:
    return dict(zip(RIG_FACTS, rig, strict=True))


@pytest.mark.parametrize("vector", VECTORS, ids=[vector["why"] for vector in VECTORS])
def test_vector(vector: dict[str, Any]) -> None:
    assert applies(vector["condition"], vector["facts"]) is vector["expected"]


def test_the_vectors_show_both_forms_with_both_answers() -> None:
    shown = {(isinstance(vector["condition"], list), vector["expected"]) for vector in VECTORS}
    assert len(shown) == 4


def test_every_rig_there_is_is_there_once() -> None:
    rigs = [tuple(rig.values()) for rig in every_rig()]
    assert len(rigs) == len(set(rigs)) == 2 * 3 * 2 * 2 * 2
    assert set(rigs) == set(product(*RIG_FACTS.values()))
    assert all(tuple(rig) == tuple(RIG_FACTS) for rig in every_rig())


@given(CONDITIONS)
def test_a_condition_holds_for_the_rigs_it_spells_out_and_no_other(condition: Any) -> None:
    meant = rigs_by_hand(condition)
    for rig in product(*RIG_FACTS.values()):
        assert applies(condition, as_facts(rig)) is (rig in meant)
    assert {tuple(rig.values()) for rig in rigs_met(condition)} == meant


@given(st.lists(BRANCHES, min_size=1, max_size=4))
def test_alternatives_are_refused_exactly_when_one_adds_no_rig(branches: list[Any]) -> None:
    meant = [rigs_by_hand(branch) for branch in branches]
    contained = any(
        meant[one] <= meant[other]
        for one, other in product(range(len(meant)), repeat=2)
        if one != other
    )
    if contained:
        with pytest.raises(ValueError, match=r"twice|part of"):
            check(branches)
    else:
        check(branches)


def test_every_fact_with_every_value_is_taken() -> None:
    check({name: [member.value for member in kind] for name, kind in FACTS.items()})
    check({})
    check([{}])
    check(({"tongue": ("drop",)}, {"hitch": ("six_up",)}))


@pytest.mark.parametrize(
    ("condition", "words"),
    [
        ({"wheels": ["iron"]}, "no fact"),
        ({"tongue": ["iron"]}, "no value of tongue"),
        ({"tongue": ["drop", "Drop"]}, "“Drop”"),
        ({"tongue": []}, "never apply"),
        ({"hitch": ["team"], "draft": ["rope"]}, "no value of draft"),
        ({"tongue": "drop"}, "a list, even if there is only one"),
        ({"tongue": {"drop": True}}, "a list, even if there is only one"),
        ({"tongue": None}, "a list, even if there is only one"),
        ({"tongue": [["drop"]]}, "no value of tongue"),
        ({"tongue": [1]}, "“1” is no value of tongue"),
        ({"tongue": ["drop", "drop"]}, "“drop” twice"),
        ({7: ["drop"]}, "no fact “7”"),
        ("drop", "names facts of the rig"),
        (None, "names facts of the rig"),
        (3, "names facts of the rig"),
        ([], "never apply"),
        (["drop"], "Each alternative"),
        ([[{"tongue": ["drop"]}]], "Each alternative"),
        ([{"tongue": ["drop"]}, {"wheels": ["iron"]}], "no fact “wheels”"),
        ([{"tongue": ["drop"]}, {"tongue": ["drop"]}], "“drop tongue” is there twice"),
        ([{"hitch": ["team", "six_up"]}, {"hitch": ["six_up", "team"]}], "there twice"),
        ([{"tongue": ["drop", "stiff"]}, {}], "there twice"),
        ([{"tongue": ["drop"]}, {}], "“drop tongue” is part of “every rig”"),
        ([{}, {"tongue": ["drop"]}], "“drop tongue” is part of “every rig”"),
        ([{"draft": ["chain"]}] * 21, "at most 20"),
    ],
)
def test_a_condition_nobody_can_mean_is_refused(condition: Any, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        check(condition)


def test_alternatives_may_share_rigs_when_each_adds_some() -> None:
    check([{"tongue": ["drop"]}, {"hitch": ["six_up"]}])
    assert len(rigs_met([{"tongue": ["drop"]}, {"hitch": ["six_up"]}])) == 24 + 8


@pytest.mark.parametrize(
    ("condition", "words"),
    [
        ({}, "every rig"),
        ({"tongue": ["drop"]}, "drop tongue"),
        ({"tongue": ["drop"], "hitch": ["four_up", "six_up"]}, "drop tongue; four-up or six-up"),
        (
            [{"holdback": ["side_backer"]}, {"pattern": ["military"], "draft": ["chain"]}],
            "side-backer – or trace chains; military pattern",
        ),
    ],
)
def test_a_condition_in_words(condition: Any, words: str) -> None:
    assert in_words(condition) == words
    assert condition_words(condition) == words


def test_a_condition_is_said_in_the_readers_language_and_kept_in_english() -> None:
    condition = [{"holdback": ["side_backer"]}, {"hitch": ["four_up", "six_up"]}]
    with translation.override("es"):
        told = condition_words(condition)
        assert in_words(condition) == "side-backer – or four-up or six-up"
        assert condition_words({}) == "todos los aparejos"
    assert told == "retranca lateral – o tiro de cuatro o tiro de seis"


@given(st.text() | st.integers() | st.floats() | st.none() | st.lists(st.text()))
def test_what_somebody_wrote_is_quoted_short_and_printable(value: object) -> None:
    said = quoted(value)
    assert said[0] == "“" and said[-1] == "”"
    assert len(said) <= 42 and said.isprintable()


VALUES = st.none() | st.booleans() | st.integers() | st.text(max_size=8)
NEARLY = st.sampled_from([*RIG_FACTS, *(v for values in RIG_FACTS.values() for v in values)])
ANY = st.recursive(
    VALUES | NEARLY,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(NEARLY | VALUES, inner, max_size=3),
    max_leaves=8,
)


@given(ANY)
def test_whatever_is_written_is_refused_in_words_or_can_be_read(condition: Any) -> None:
    with suppress(ValueError):
        check(condition)
        assert in_words(condition) or condition in ({}, None)
        assert rigs_met(condition)
