"""The text of a card file: what is read, and that hostile text only ever gets a sentence."""

from __future__ import annotations

import json
import math
from typing import Any

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from judging.rules.cards.card_text import DEEPEST, LARGEST, read_text, write_json, write_yaml
from tests.drawn_cards import cards

EASY = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])


def refusal(text: str, **more: Any) -> str:
    with pytest.raises(ValueError, match=r"\S") as refused:
        read_text(text, **more)
    assert type(refused.value) is ValueError, "no parser's own error comes through"
    return str(refused.value)


# -- what is read ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "data"),
    [
        ("a: 1", {"a": 1}),
        ("a: -2.50", {"a": -2.5}),
        ("a: [x, y]\nb: {c: true}", {"a": ["x", "y"], "b": {"c": True}}),
        ("a:\nb: ~\nc: null", {"a": None, "b": None, "c": None}),
        ("a: 'true'\nb: \"1\"", {"a": "true", "b": "1"}),
        ("a: >-\n  two\n  lines\n", {"a": "two lines"}),
        ("# only a remark\na: 1 # and another\n", {"a": 1}),
        ("---\na: 1\n...\n", {"a": 1}),
        ("\ufeffa: 1", {"a": 1}),
        ("a: 1\r\nb: 2\r\n", {"a": 1, "b": 2}),
        ("- 1\n- 2", [1, 2]),
        (json.dumps([[1]] * 30), [[1]] * 30),
        ("- [1]\n" * 30, [[1]] * 30),
        ("just words", "just words"),
        # What YAML of old takes for dates, truth, octals, hours or shorthand stays text.
        ("a: 2027-05-14", {"a": "2027-05-14"}),
        ("a: 2027-99-99", {"a": "2027-99-99"}),
        ("a: yes\nb: No\nc: on", {"a": "yes", "b": "No", "c": "on"}),
        ("a: 012\nb: 0x1F\nc: 1_000", {"a": "012", "b": "0x1F", "c": "1_000"}),
        ("a: 4:30", {"a": "4:30"}),
        ("a: .inf\nb: .nan\nc: 1e3", {"a": ".inf", "b": ".nan", "c": "1e3"}),
        ("a: 99999999999999999999999", {"a": "99999999999999999999999"}),
        ("<<: 1", {"<<": 1}),
        ('{"a": [1, 0.5, null, true]}', {"a": [1, 0.5, None, True]}),
        ('{"a": "x\\u00e9\\ud83d\\ude00"}', {"a": "xé😀"}),
        ('  [1, {"a": 1}, {"a": 2}]\n', [1, {"a": 1}, {"a": 2}]),
        ('{"a": {"a": {"a": 1}}, "b": "\\"a\\": {[", "c": "}"}',
         {"a": {"a": {"a": 1}}, "b": '"a": {[', "c": "}"}),
    ],
)  # fmt: skip
def test_plain_text_is_read(text: str, data: object) -> None:
    assert read_text(text) == data


@given(cards())
@settings(EASY, max_examples=30)
def test_yaml_and_json_of_a_card_come_back(data: Any) -> None:
    assert read_text(write_yaml(data)) == data
    assert read_text(write_json(data)) == data
    assert yaml.safe_load(write_yaml(data)) == data, "other readers understand our YAML"
    assert json.loads(write_json(data)) == data


TEXTS = st.text(st.characters(exclude_categories=["Cs"]))
VALUES = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**9), 10**9) | TEXTS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXTS, inner, max_size=3),
    max_leaves=10,
)


@given(st.dictionaries(TEXTS, VALUES, max_size=4))
@EASY
def test_any_text_comes_back_from_yaml(data: Any) -> None:
    assert read_text(write_yaml(data)) == data


def test_what_is_there_twice_in_memory_is_written_out_twice() -> None:
    shared = ["drop"]
    text = write_yaml({"a": shared, "b": shared})
    assert "&" not in text and "*" not in text
    assert read_text(text) == {"a": ["drop"], "b": ["drop"]}


def test_json_has_no_number_that_is_none() -> None:
    with pytest.raises(ValueError, match=r"\S"):
        write_json({"a": math.nan})


# -- what is refused -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "empty"),
        (" \n\t\n", "empty"),
        ("# nothing but a remark", "empty"),
        ("a: 1\nb: &x 2", "Line 2: anchors"),
        ("a: 1\nb: *x", "Line 2: aliases"),
        ("a: &x [1]\nb: *x", "Line 1: anchors"),
        ("&x a: 1", "Line 1: anchors"),
        ("a: !!python/object/apply:os.system ['true']", "Line 1: tags"),
        ("a: 1\nb: !!str 2", "Line 2: tags"),
        ("a: ! 2", "Line 1: tags"),
        ("!card\na: 1", "Line 1: tags"),
        ("a: 1\nb: 2\na: 3", "Line 3: “a” is there twice"),
        ("x:\n  a: 1\n  'a': 3", "Line 3: “a” is there twice"),
        ("x: {a: 1, a: 2}", "Line 1: “a” is there twice"),
        ('{"a": 1,\n "b": {"a": 1,\n "a": 2}}', "Line 3: “a” is there twice"),
        ('{"a": 1,\n "\\u0061": 2}', "Line 2: “a” is there twice"),
        ("? [1]\n: 2", "Line 1: a key is a text"),
        ("1: a", "Line 1: a key is a text"),
        ("true: a", "Line 1: a key is a text"),
        ("a: 1\n---\nb: 2", "Line 2: a second card"),
        ("a: [1", "this is not YAML"),
        ("a: 1\n\tb: 2", "Line 2: this is not YAML"),
        ("a: 'open", "this is not YAML"),
        ("a: @", "Line 1: this is not YAML"),
        ("%YAML 9.9\n---\na: 1", "Line 1: this is not YAML"),
        ("a: b: c", "Line 1: this is not YAML"),
        ('{"a": 1', "Line 1: this is not JSON"),
        ('{"a": 1}\n{"b": 2}', "Line 2: this is not JSON"),
        ("{a: 1}", "Line 1: this is not JSON"),
        ('{"a": NaN}', "a number that cannot be read"),
        ('{"a": -Infinity}', "a number that cannot be read"),
        ('{"a": ' + "9" * 5_000 + "}", "a number that cannot be read"),
        ("a: 1\nb: \x00", "Line 2: a character"),
        ("a: \x1b[31m", "Line 1: a character"),
        ("a: \ud83d", "Line 1: a character"),
        ("a: " + "[" * (DEEPEST + 1), "Line 1: more than 20 levels"),
        ("[" * (DEEPEST + 1), "Line 1: more than 20 levels"),
        ("\n".join("  " * n + "- x:" for n in range(DEEPEST)), "more than 20 levels"),
    ],
)
def test_what_is_not_plain_is_refused_with_a_sentence_and_its_line(text: str, words: str) -> None:
    said = refusal(text)
    assert words in said
    assert said.endswith(".") and said[0].isupper() and "\n" not in said and len(said) < 250


def test_twenty_levels_are_read() -> None:
    inner: Any = 1
    for _ in range(DEEPEST):
        inner = [inner]
    assert read_text(json.dumps(inner)) == inner
    assert read_text(write_yaml(inner)) == inner


def test_a_large_file_is_refused_before_it_is_looked_at() -> None:
    assert "at most 2,000,000 characters" in refusal("[" * (LARGEST + 1))
    assert read_text("a: 1", largest=4) == {"a": 1}
    assert "at most 3 characters" in refusal("a: 1", largest=3)


BOMBS = {
    "brackets": "[" * LARGEST,
    "brackets in YAML": "a: " + "[" * (LARGEST - 3),
    "list signs": "- " * (LARGEST // 2),
    "question signs": "? " * (LARGEST // 2),
    "escaped quotes": '["' + '\\"' * (LARGEST // 2 - 1),
    "quotes": '["' + '"' * (LARGEST - 2),
    "blanks after a key": '{"a"' + " " * (LARGEST - 4),
    "keys without colons": "{" + '"a" ' * (LARGEST // 4 - 1),
    "one long anchor": "&" * LARGEST,
    "doubling aliases": "a: &a [x]\n" + "".join(
        f"{chr(98 + n)}: &{chr(98 + n)} [*{chr(97 + n)}, *{chr(97 + n)}]\n" for n in range(20)
    ),
    "open string": '"' + "a\n" * (LARGEST // 2 - 1),
    "growing keys": "".join("x" * n + ":\n" for n in range(1, 1_900)),
}  # fmt: skip


@pytest.mark.parametrize("name", BOMBS)
def test_a_file_made_to_hang_a_reader_is_refused(name: str) -> None:
    """A reader that doubles its work with each sign would not come back from any of these."""
    said = refusal(BOMBS[name])
    assert said.endswith(".") and len(said) < 250


SIGNS = st.text(
    st.sampled_from("{}[]\"':,-?&*!|>%@`#\\ \n\tab01.~<=\u2028\x85é😀") | st.characters(),
    max_size=60,
)


def refusal_of(text: str) -> ValueError | None:
    try:
        read_text(text)
    except ValueError as refused:
        return refused
    return None


@given(SIGNS | SIGNS.map("{{{}".format) | SIGNS.map("a: {}".format) | st.text())
@settings(deadline=None, max_examples=400)
def test_random_text_is_read_or_refused_with_a_sentence(text: str) -> None:
    refused = refusal_of(text)
    if refused:
        assert type(refused) is ValueError
        assert str(refused).endswith(".") and str(refused).isprintable()


def test_random_text_is_sometimes_read_and_sometimes_refused() -> None:
    """So that the test above is known to look at both."""
    seen = set()

    @settings(derandomize=True, database=None, deadline=None, max_examples=300)
    @given(SIGNS)
    def look(text: str) -> None:
        seen.add(refusal_of(text) is None)

    look()
    assert seen == {True, False}
