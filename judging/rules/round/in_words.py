"""What a phone sent, said in plain words for somebody who has to act on it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from entries.rules.rig import FACTS, WORDS
from judging.rules.round.events import Degree, Kind, read_card_hash
from judging.rules.round.lateness import AFTER_SIGNATURE, AFTER_WINDOW, DEVICE_SHUT_OUT
from judging.rules.round.receipts import short_hash
from showrun.language import gettext as _
from showrun.language import ngettext

EXCERPT = 120
LONGEST = 40


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
        return _('Cannot be read: "{text}"').format(text=f"{text[:EXCERPT]}{dots}")
    return teller(
        body,
        _wagon(wagons, body.get("entry")),
        _row(rows, body.get("criterion")),
        _section(sections, body.get("section")),
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
    return {
        DEVICE_SHUT_OUT: ngettext(
            "{n} touch that came after the phone was shut out",
            "{n} touches that came after the phone was shut out",
            n,
        ),
        AFTER_WINDOW: ngettext(
            "{n} touch made after the judging window",
            "{n} touches made after the judging window",
            n,
        ),
        AFTER_SIGNATURE: ngettext(
            "{n} touch that came after the result was signed",
            "{n} touches that came after the result was signed",
            n,
        ),
    }[code].format(n=n)


def _wagon(names: Mapping[int, str], key: Any) -> str:
    if isinstance(key, int) and key in names:
        return _("wagon {name}").format(name=names[key])
    return _("no wagon") if key is None else _("unknown wagon {key}").format(key=_short(key))


def _row(names: Mapping[str, str], key: Any) -> str:
    if isinstance(key, str) and key in names:
        return names[key]
    return _("no row") if key is None else _("unknown row {key}").format(key=_short(key))


def _section(names: Mapping[str, str], key: Any) -> str:
    if isinstance(key, str) and key in names:
        return names[key]
    return _("no section") if key is None else _("unknown section {key}").format(key=_short(key))


def _short(value: Any) -> str:
    return str(value)[:LONGEST]


def _quoted(body: Mapping[str, Any]) -> str:
    text = str(body.get("text") or "").strip()
    return f': "{text}"' if text else ""


def _mark(body: Mapping[str, Any], wagon: str, row: str, section: str) -> str:
    state = str(body.get("state"))[:LONGEST]
    if state == "marked":
        value = _short(body.get("value"))
        return _("Mark {value} for {row}, {wagon}").format(value=value, row=row, wagon=wagon)
    said = {
        "not_applicable": _("Not applicable for {row}, {wagon}"),
        "not_inspected": _("Not inspected for {row}, {wagon}"),
    }.get(state, _("{state} for {row}, {wagon}"))
    return said.format(state=state.replace("_", " ").capitalize(), row=row, wagon=wagon)


def _clear(body: Mapping[str, Any], wagon: str, row: str, section: str) -> str:
    return _("Took back the mark for {row}, {wagon}").format(row=row, wagon=wagon)


def _remark(body: Mapping[str, Any], wagon: str, row: str, section: str) -> str:
    said = _quoted(body)
    deed = (
        _("Remark on {section}, {wagon}")
        if said
        else _("Took back the remark on {section}, {wagon}")
    )
    return deed.format(section=section, wagon=wagon) + said


def _concern(body: Mapping[str, Any], wagon: str, row: str, section: str) -> str:
    degree = str(body.get("degree"))
    words = Degree(degree).words if degree in set(Degree) else degree[:LONGEST]
    where = f", {row}" if body.get("criterion") else ""
    said = _("Safety concern ({degree}), {wagon}").format(degree=words, wagon=wagon)
    return f"{said}{where}{_quoted(body)}"


def _open(body: Mapping[str, Any], wagon: str, row: str, section: str) -> str:
    return _("Opened the card of {wagon}").format(wagon=wagon)


def _hand_in(body: Mapping[str, Any], wagon: str, row: str, section: str) -> str:
    signed = read_card_hash(body)
    if signed:
        return _("Handed in the card of {wagon}, signed as {hash}").format(
            wagon=wagon, hash=short_hash(signed)
        )
    return _("Handed in the card of {wagon}").format(wagon=wagon)


def _answer(body: Mapping[str, Any], wagon: str, row: str, section: str) -> str:
    value = body.get("value")
    corrected = (
        _("Answer to question {question}, corrected")
        if value is None
        else _("Answer to question {question}, corrected to {value}")
    )
    told = {"correct": corrected, "unsure": _("Answer to question {question}, cannot recall")}
    said = told.get(str(body.get("verdict")), _("Answer to question {question}, confirmed"))
    said = said.format(question=_short(body.get("question")), value=_short(value))
    return f"{said}{_quoted(body)}"


def _rig(body: Mapping[str, Any], wagon: str, row: str, section: str) -> str:
    rig = body.get("rig")
    facts = rig if isinstance(rig, Mapping) else {}
    told = [_fact(fact, facts[fact]) for fact in FACTS if fact in facts]
    said = _("Rig at the wagon: {rig}, {wagon}").format(
        rig=", ".join(told) or _("not told"), wagon=wagon
    )
    return f"{said}{_quoted(body)}"


def _fact(fact: str, value: Any) -> str:
    known = isinstance(value, str) and value in {member.value for member in FACTS[fact]}
    if known:
        return _(WORDS[value])
    return _("unknown {fact} {value}").format(fact=_(WORDS[fact]).lower(), value=_short(value))


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
