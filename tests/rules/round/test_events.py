"""Reading what phones send."""

from __future__ import annotations

import json
from decimal import Decimal
from uuid import uuid4

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.rules.cards.scorecard import Mark, MarkState
from judging.rules.round.events import (
    EventRefused,
    Kind,
    body_hash,
    read_battery,
    read_card_hash,
    read_event,
    read_keyed_by,
    storable,
)


def raw(**more):
    return {
        "id": str(uuid4()),
        "seq": 1,
        "kind": "mark",
        "entry": 3,
        "criterion": "hubs",
        "state": "marked",
        "value": "7",
        **more,
    }


@pytest.mark.parametrize("value", ["7", 7, 7.0, "7.0"])
def test_a_mark_is_read_whatever_way_the_number_is_written(value):
    event = read_event(raw(value=value))
    assert event.mark == Mark(MarkState.MARKED, Decimal(7))
    assert (event.entry, event.criterion) == (3, "hubs")


def test_each_kind_is_read():
    assert read_event(raw(kind="clear")).kind is Kind.CLEAR
    assert read_event(raw(kind="remark", section="gear", text=" dry ")).text == "dry"
    assert read_event(raw(kind="concern", degree="stop", text="x")).degree == "stop"
    assert read_event(raw(kind="hand_in")).entry == 3
    answer = read_event(raw(kind="answer", question=9, verdict="correct", value="8"))
    assert (answer.question, answer.verdict) == (9, "correct")


RIG = {
    "tongue": "stiff",
    "hitch": "four_up",
    "draft": "chain",
    "pattern": "military",
    "holdback": "side_backer",
}


def test_a_rig_is_read_with_all_its_facts_and_the_judges_words():
    event = read_event(raw(kind="rig", rig=dict(reversed(RIG.items())), text=" bolted "))
    assert (event.kind, event.entry, event.text) == (Kind.RIG, 3, "bolted")
    assert event.rig is not None
    assert list(event.rig.facts().items()) == list(RIG.items())
    assert read_event(raw(kind="rig", rig=RIG)).text == ""


@pytest.mark.parametrize(
    ("rig", "says"),
    [
        (None, "does not say what the rig is"),
        ("stiff tongue", "does not say what the rig is"),
        ([RIG], "does not say what the rig is"),
        ({}, "Tongue: drop tongue or stiff tongue, please. Hitch: team of two"),
        *(({**RIG, fact: "rubber"}, " or ") for fact in RIG),
        *(({key: RIG[key] for key in RIG if key != fact}, "please.") for fact in RIG),
        ({**RIG, "tongue": None}, "Tongue: drop tongue or stiff tongue, please."),
        ({**RIG, "tongue": {"a": 1}}, "Tongue: drop tongue or stiff tongue, please."),
        ({**RIG, "tongue": "Stiff"}, "Tongue: drop tongue or stiff tongue, please."),
        ({**RIG, "wheels": "rubber"}, "A rig has no fact “wheels”; it has tongue, hitch,"),
    ],
)
def test_a_rig_is_read_strictly(rig, says):
    with pytest.raises(EventRefused) as refused:
        read_event(raw(kind="rig", rig=rig))
    assert refused.value.code == "unreadable"
    assert says in str(refused.value)
    assert len(str(refused.value)) <= 300


@pytest.mark.parametrize(
    "broken",
    [
        "not an event",
        None,
        [],
        raw(id="7"),
        raw(seq=0),
        raw(seq=True),
        raw(seq=1.5),
        raw(seq=2**60),
        raw(kind="unreadable"),
        raw(kind=None),
        raw(entry="3"),
        raw(entry=-1),
        raw(criterion=""),
        raw(criterion="x" * 81),
        raw(state="lost"),
        raw(value="seven"),
        raw(value="NaN"),
        raw(value="Infinity"),
        raw(value=[7]),
        raw(value=True),
        raw(kind="concern", degree="panic"),
        raw(kind="answer", question=9, verdict="maybe"),
        raw(kind="remark", section="gear", text=5),
    ],
)
def test_what_cannot_be_read_is_refused_with_a_sentence(broken):
    with pytest.raises(EventRefused) as refused:
        read_event(broken)
    assert refused.value.code == "unreadable"
    assert len(str(refused.value)) > 20


def test_an_enormous_number_is_refused_before_it_is_computed_with():
    with pytest.raises(EventRefused) as refused:
        read_event(raw(value="1e999999"))
    assert refused.value.code == "mark-over-maximum"


def test_a_long_text_is_refused_and_not_cut():
    with pytest.raises(EventRefused) as refused:
        read_event(raw(kind="remark", section="gear", text="x" * 301))
    assert refused.value.code == "text-too-long"


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=10,
)


@given(JSON)
def test_anything_is_either_read_or_refused_and_can_be_kept(body):
    try:
        read_event(body)
    except EventRefused:
        pass
    text = json.dumps(storable(body), ensure_ascii=False)
    text.encode()
    assert "\\u0000" not in text.replace("\\\\", "")
    assert len(body_hash(body)) == 64


@given(st.dictionaries(st.text(max_size=5), st.integers(), max_size=5))
def test_the_fingerprint_does_not_depend_on_the_order_of_fields(body):
    turned = dict(reversed(list(body.items())))
    assert body_hash(body) == body_hash(turned)
    assert body_hash(body) != body_hash({**body, "one more": 1})


HASH = "0a" * 32


@pytest.mark.parametrize("told", [HASH, HASH.upper(), "", None])
def test_a_hand_in_tells_the_fingerprint_of_the_card_signed_or_none(told):
    event = raw(kind="hand_in", hash=told)
    assert read_event(event).entry == 3
    assert read_card_hash(event) == (HASH if told else None)


@pytest.mark.parametrize("told", [HASH[1:], HASH + "0", "g" * 64, 7, [HASH], {}, True, 0])
def test_a_fingerprint_that_cannot_be_read_is_refused(told):
    event = raw(kind="hand_in", hash=told)
    assert read_card_hash(event) is None
    with pytest.raises(EventRefused) as refused:
        read_event(event)
    assert refused.value.code == "unreadable"


@given(
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
        lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
        max_leaves=8,
    )
)
def test_whatever_is_told_of_scribe_and_battery_is_read_or_left(told):
    name = read_keyed_by({"keyed_by": told})
    assert len(name) <= 80
    assert storable(name) == name
    assert read_battery(told) in {None, *range(101)}
    assert read_keyed_by(told) == "" or isinstance(told, dict)
