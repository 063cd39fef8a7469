"""Reading a rig from plain words and saying it back."""

from __future__ import annotations

import itertools

import pytest

from entries.rules.rig import FACTS, WORDS, Rig

ALL_VALUES = [[member.value for member in kind] for kind in FACTS.values()]
FIRST = {name: next(iter(kind)).value for name, kind in FACTS.items()}


def test_every_rig_is_read_as_it_was_written() -> None:
    rigs = [dict(zip(FACTS, values, strict=True)) for values in itertools.product(*ALL_VALUES)]
    assert len(rigs) == 2 * 3 * 2 * 2 * 2
    for rig in rigs:
        assert Rig.read(rig).facts() == rig
    assert len({Rig.read(rig).in_words() for rig in rigs}) == len(rigs)


def test_every_fact_and_value_has_words() -> None:
    assert set(WORDS) == {*FACTS, *itertools.chain(*ALL_VALUES)}


@pytest.mark.parametrize("fact", FACTS)
def test_a_missing_or_unknown_value_is_answered_with_those_known(fact: str) -> None:
    without = {name: value for name, value in FIRST.items() if name != fact}
    for rig in (without, {**FIRST, fact: "rubber"}):
        with pytest.raises(ValueError, match=f"^{WORDS[fact]}: ") as told:
            Rig.read(rig)
        assert all(WORDS[member.value] in str(told.value) for member in FACTS[fact])
