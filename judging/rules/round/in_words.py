"""What a phone sent, said in plain words for somebody who has to act on it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from entries.rules.rig import FACTS, WORDS
from judging.rules.round.events import Degree, Kind, read_card_hash
from judging.rules.round.lateness import AFTER_SIGNATURE, AFTER_WINDOW, DEVICE_SHUT_OUT
from judging.rules.round.receipts import short_hash

EXCERPT = 120
LONGEST = 40
_LATE = {
    DEVICE_SHUT_OUT: "that came after the phone was shut out",
    AFTER_WINDOW: "made after the judging window",
    AFTER_SIGNATURE: "that came after the result was signed",
}


def sent_in_words(
    body: Any,
    *,
    wagons: Mapping[int, str],
    rows: Mapping[str, str],
    sections: Mapping[str, str],
) -> str:
    """Say in a sentence what the judge touched, whether or not it could take effect.

    Parameters
    ----------
    body : object
        The event as it was sent; anything at all, also what cannot be read.
    wagons : mapping of int to str
        Entry id to the wagon's number and name.
    rows, sections : mapping of str to str
        Code to name, of criteria and of sections.

    Returns
    -------
    str
        Names what is unknown by its code, and quotes the start of what cannot be read.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> sent_in_words(
    ...     {"kind": "mark", "entry": 3, "criterion": "hub", "state": "marked", "value": "11"},
    ...     wagons={3: "4. Quiet Anvil"}, rows={"hub": "Hubs"}, sections={})
    'Mark 11 for Hubs, wagon 4. Quiet Anvil'
    >>> sent_in_words("?!", wagons={}, rows={}, sections={})
    'Cannot be read: "?!"'
    """
    kind = body.get("kind") if isinstance(body, Mapping) else None
    teller = _TELLERS.get(kind) if isinstance(kind, str) else None
    if teller is None:
        text = str(body)
        dots = "…" if len(text) > EXCERPT else ""
        return f'Cannot be read: "{text[:EXCERPT]}{dots}"'
    return teller(
        body,
        _named(wagons, body.get("entry"), "wagon"),
        _named(rows, body.get("criterion"), "row"),
        _named(sections, body.get("section"), "section"),
    )


def late_in_words(code: str, n: int) -> str:
    """Say how many touches of a phone wait for the office together, and what for.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> late_in_words("after-window", 23), late_in_words("device-shut-out", 1)
    ('23 touches made after the judging window', '1 touch that came after the phone was shut out')
    """
    return f"{n} touch{'es' if n != 1 else ''} {_LATE[code]}"


def _named(names: Mapping[Any, str], key: Any, noun: str) -> str:
    """Give the name, else what was sent in its stead."""
    if isinstance(key, int | str) and key in names:
        return f"wagon {names[key]}" if noun == "wagon" else names[key]
    return f"unknown {noun} {_short(key)}" if key is not None else f"no {noun}"


def _short(value: Any) -> str:
    return str(value)[:LONGEST]


def _quoted(body: Mapping[str, Any]) -> str:
    text = str(body.get("text") or "").strip()
    return f': "{text}"' if text else ""


def _mark(body: Mapping[str, Any], wagon: str, row: str, section: str) -> str:
    state = str(body.get("state"))[:LONGEST]
    if state == "marked":
        return f"Mark {_short(body.get('value'))} for {row}, {wagon}"
    return f"{state.replace('_', ' ').capitalize()} for {row}, {wagon}"


def _clear(body: Mapping[str, Any], wagon: str, row: str, section: str) -> str:
    return f"Took back the mark for {row}, {wagon}"


def _remark(body: Mapping[str, Any], wagon: str, row: str, section: str) -> str:
    said = _quoted(body)
    deed = "Remark" if said else "Took back the remark"
    return f"{deed} on {section}, {wagon}{said}"


def _concern(body: Mapping[str, Any], wagon: str, row: str, section: str) -> str:
    degree = str(body.get("degree"))
    words = Degree(degree).words if degree in set(Degree) else degree[:LONGEST]
    where = f", {row}" if body.get("criterion") else ""
    return f"Safety concern ({words}), {wagon}{where}{_quoted(body)}"


def _open(body: Mapping[str, Any], wagon: str, row: str, section: str) -> str:
    return f"Opened the card of {wagon}"


def _hand_in(body: Mapping[str, Any], wagon: str, row: str, section: str) -> str:
    signed = read_card_hash(body)
    return f"Handed in the card of {wagon}{f', signed as {short_hash(signed)}' if signed else ''}"


def _answer(body: Mapping[str, Any], wagon: str, row: str, section: str) -> str:
    value = body.get("value")
    corrected = "corrected" if value is None else f"corrected to {_short(value)}"
    told = {"correct": corrected, "unsure": "cannot recall"}
    verdict = told.get(str(body.get("verdict")), "confirmed")
    return f"Answer to question {_short(body.get('question'))}, {verdict}{_quoted(body)}"


def _rig(body: Mapping[str, Any], wagon: str, row: str, section: str) -> str:
    rig = body.get("rig")
    facts = rig if isinstance(rig, Mapping) else {}
    told = [_fact(fact, facts[fact]) for fact in FACTS if fact in facts]
    return f"Rig at the wagon: {', '.join(told) or 'not told'}, {wagon}{_quoted(body)}"


def _fact(fact: str, value: Any) -> str:
    known = isinstance(value, str) and value in {member.value for member in FACTS[fact]}
    return WORDS[value] if known else f"unknown {WORDS[fact].lower()} {_short(value)}"


_TELLERS = {
    Kind.OPEN.value: _open,
    Kind.MARK.value: _mark,
    Kind.CLEAR.value: _clear,
    Kind.REMARK.value: _remark,
    Kind.CONCERN.value: _concern,
    Kind.HAND_IN.value: _hand_in,
    Kind.ANSWER.value: _answer,
    Kind.RIG.value: _rig,
}
