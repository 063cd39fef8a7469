"""The events of a round: what a phone may send, and how two of them are weighed.

An event is a touch a judge made. It is read once, kept for ever, and either takes effect
or is kept for the office with a reason; it is never lost.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from typing import Any
from uuid import UUID

from entries.rules.rig import FACTS, Rig, faults_of_rig
from judging.rules.cards.scorecard import Mark, MarkState
from showrun.language import gettext as _

TEXT_MAX = 300
NAME_MAX = 80
BATCH_MAX = 40
LARGEST = Decimal(1000)
FINEST = 20  # decimal places
_CANONICAL = json.JSONEncoder(
    sort_keys=True, separators=(",", ":"), ensure_ascii=False, default=str
)
# NUL, and halves of a surrogate pair.
_UNSTORABLE = re.compile("[\0\ud800-\udfff]")
_CARD_HASH = re.compile("[0-9a-f]{64}")


class Kind(StrEnum):
    """What the judge did."""

    OPEN = "open"
    MARK = "mark"
    CLEAR = "clear"
    REMARK = "remark"
    CONCERN = "concern"
    HAND_IN = "hand_in"
    ANSWER = "answer"
    RIG = "rig"
    UNREADABLE = "unreadable"


class Degree(StrEnum):
    """How grave a safety concern is."""

    STOP = "stop"
    MEND = "mend"
    NOTE = "note"

    @property
    def words(self) -> str:
        """The degree as people say it."""
        return {
            "stop": _("stop now"),
            "mend": _("mend before moving"),
            "note": _("note"),
        }[self.value]


class EventRefused(ValueError):
    """An event that cannot take effect; `code` is stable for programs."""

    def __init__(self, code: str, sentence: str) -> None:
        super().__init__(sentence)
        self.code = code


@dataclass(frozen=True)
class Event:
    """A readable event. Which fields are set depends on the kind."""

    id: UUID
    seq: int
    kind: Kind
    entry: int | None = None
    criterion: str | None = None
    section: str | None = None
    mark: Mark | None = None
    text: str = ""
    degree: Degree | None = None
    question: int | None = None
    verdict: str | None = None
    rig: Rig | None = None


def body_hash(raw: object) -> str:
    """Fingerprint an event as sent, whatever the order of its fields.

    Examples
    --------
    >>> body_hash({"a": 1, "b": 2}) == body_hash({"b": 2, "a": 1})
    True
    """
    text = _CANONICAL.encode(raw)
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def storable(raw: Any) -> Any:
    """Return what was sent with the few letters no database keeps replaced by a mark.

    Examples
    --------
    >>> storable({"text": "dry\\x00 leather"})
    {'text': 'dry� leather'}
    """
    if isinstance(raw, str):
        return _UNSTORABLE.sub("\ufffd", raw)
    if isinstance(raw, Mapping):
        return {storable(str(key)): storable(value) for key, value in raw.items()}
    if isinstance(raw, list):
        return [storable(value) for value in raw]
    return raw


def read_id(raw: Any) -> UUID | None:
    """Return the event's id, or None where it has none that can be used."""
    if not isinstance(raw, Mapping):
        return None
    try:
        return UUID(str(raw.get("id")))
    except ValueError:
        return None


def read_seq(raw: Any) -> int | None:
    """Return the event's place in its phone's count, or None."""
    return _usable(raw.get("seq")) if isinstance(raw, Mapping) else None


def read_entry(raw: Any) -> int | None:
    """Return the entry the event speaks of, or None."""
    return _usable(raw.get("entry")) if isinstance(raw, Mapping) else None


def read_card_hash(raw: Any) -> str | None:
    """Return the fingerprint of the card as its judge signed it, or None where none is told."""
    told = raw.get("hash") if isinstance(raw, Mapping) else None
    return told.lower() if isinstance(told, str) and _CARD_HASH.fullmatch(told.lower()) else None


def read_keyed_by(raw: Any) -> str:
    """Return who keyed the touch for the judge, empty where the judge did or nobody is told.

    A paper card names the two people who keyed it. A name that cannot be read is left out.

    Examples
    --------
    >>> read_keyed_by({"keyed_by": " Oda  Brandt "})
    'Oda Brandt'
    >>> read_keyed_by({"keyed_by": [{"id": 7, "name": "Oda Brandt"}, {"id": 9, "name": "Jo Li"}]})
    'Oda Brandt, Jo Li'
    >>> read_keyed_by({"keyed_by": 7}), read_keyed_by("?!")
    ('', '')
    """
    told = raw.get("keyed_by") if isinstance(raw, Mapping) else None
    if not told:
        return ""
    people = told if isinstance(told, list) else [told]
    names = [one.get("name") if isinstance(one, Mapping) else one for one in people]
    kept = [_one_line(name) for name in names if isinstance(name, str)]
    return ", ".join(name for name in kept if name)[:NAME_MAX].strip()


def read_battery(told: Any) -> int | None:
    """Return how full a phone's battery is [%], or None where it does not tell.

    Examples
    --------
    >>> read_battery(37), read_battery(101), read_battery("full"), read_battery(True)
    (37, None, None, None)
    """
    whole = isinstance(told, int) and not isinstance(told, bool)
    return told if whole and 0 <= told <= 100 else None


def _one_line(text: str) -> str:
    """Return a name with single spaces, without what no database keeps or no page shows."""
    return " ".join("".join(c for c in storable(text) if c.isprintable() or c == " ").split())


def _usable(value: Any) -> int | None:
    """Return a whole number as phones and databases can hold it, or None."""
    usable = isinstance(value, int) and not isinstance(value, bool) and 0 < value < 2**53
    return value if usable else None


def read_event(raw: Any) -> Event:
    """Read one event of a batch.

    Parameters
    ----------
    raw : object
        One item of the batch, as JSON gave it.

    Raises
    ------
    EventRefused
        ``unreadable`` or ``text-too-long``, with a sentence naming the field.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> event = read_event({"id": "7c1f6d0e-0d7e-4c55-9c1c-0f3c1a2b3c4d", "seq": 4,
    ...     "kind": "mark", "entry": 3, "criterion": "hub", "state": "marked", "value": "7"})
    >>> event.mark
    Mark(state=<MarkState.MARKED: 'marked'>, value=Decimal('7'))
    """
    event_id, seq = read_id(raw), read_seq(raw)
    if event_id is None:
        raise EventRefused("unreadable", "The event has no id that can be read.")
    if seq is None:
        raise EventRefused("unreadable", "The event has no count (seq).")
    try:
        kind = Kind(str(raw.get("kind")))
    except ValueError:
        raise EventRefused("unreadable", f"Unknown kind of event: {raw.get('kind')!r}.") from None
    reader = _READERS.get(kind)
    if reader is None:
        raise EventRefused("unreadable", "That kind of event is not sent by phones.")
    return Event(id=event_id, seq=seq, kind=kind, **reader(raw))


def _whole(raw: Mapping[str, Any], field: str) -> int:
    value = _usable(raw.get(field))
    if value is None:
        raise EventRefused("unreadable", f"The event does not say which {field}.")
    return value


def _code(raw: Mapping[str, Any], field: str) -> str:
    value = raw.get(field)
    if not isinstance(value, str) or not 0 < len(value) <= 80:
        raise EventRefused("unreadable", f"The event does not say which {field}.")
    return value


def _text(raw: Mapping[str, Any]) -> str:
    value = raw.get("text") or ""
    if not isinstance(value, str):
        raise EventRefused("unreadable", "The text cannot be read.")
    # A NUL or half a surrogate pair cannot be stored by every database.
    value = "".join(c for c in value if c >= " " and not "\ud800" <= c <= "\udfff").strip()
    if len(value) > TEXT_MAX:
        raise EventRefused("text-too-long", f"At most {TEXT_MAX} letters; {len(value)} were sent.")
    return value


def _number(raw: Mapping[str, Any]) -> Decimal | None:
    value = raw.get("value")
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise EventRefused("unreadable", "The mark is not a number.")
    try:
        number = Decimal(str(value))
    except InvalidOperation:
        raise EventRefused("unreadable", "The mark is not a number.") from None
    # Written out in full, a number with millions of places would fill the memory.
    if not number.is_finite() or int(number.as_tuple().exponent) < -FINEST:
        raise EventRefused("unreadable", "The mark is not a number.")
    if abs(number) > LARGEST:
        raise EventRefused("mark-over-maximum", f"No criterion takes {number}.")
    return number


def _read_mark(raw: Mapping[str, Any]) -> dict[str, Any]:
    try:
        state = MarkState(str(raw.get("state")))
    except ValueError:
        raise EventRefused(
            "unreadable", f"Unknown state of a mark: {raw.get('state')!r}."
        ) from None
    mark = Mark(state, _number(raw))
    return {"entry": _whole(raw, "entry"), "criterion": _code(raw, "criterion"), "mark": mark}


def _read_clear(raw: Mapping[str, Any]) -> dict[str, Any]:
    return {"entry": _whole(raw, "entry"), "criterion": _code(raw, "criterion")}


def _read_remark(raw: Mapping[str, Any]) -> dict[str, Any]:
    return {"entry": _whole(raw, "entry"), "section": _code(raw, "section"), "text": _text(raw)}


def _read_concern(raw: Mapping[str, Any]) -> dict[str, Any]:
    try:
        degree = Degree(str(raw.get("degree")))
    except ValueError:
        raise EventRefused("unreadable", "A concern is stop, mend or note.") from None
    row = _code(raw, "criterion") if raw.get("criterion") else None
    return {"entry": _whole(raw, "entry"), "criterion": row, "degree": degree, "text": _text(raw)}


def _read_open(raw: Mapping[str, Any]) -> dict[str, Any]:
    return {"entry": _whole(raw, "entry")}


def _read_hand_in(raw: Mapping[str, Any]) -> dict[str, Any]:
    # What an older page does not tell cannot be wrong.
    if raw.get("hash") not in (None, "") and read_card_hash(raw) is None:
        raise EventRefused("unreadable", "The fingerprint of the card signed cannot be read.")
    return {"entry": _whole(raw, "entry")}


def _read_answer(raw: Mapping[str, Any]) -> dict[str, Any]:
    verdict = raw.get("verdict")
    if verdict not in ("confirm", "correct", "unsure"):
        raise EventRefused("unreadable", "A question is answered by confirm, correct or unsure.")
    mark = Mark(MarkState.MARKED, _number(raw))
    return {
        "question": _whole(raw, "question"),
        "verdict": verdict,
        "mark": mark,
        "text": _text(raw),
    }


def _read_rig(raw: Mapping[str, Any]) -> dict[str, Any]:
    entry, rig = _whole(raw, "entry"), raw.get("rig")
    if not isinstance(rig, Mapping):
        raise EventRefused("unreadable", "The event does not say what the rig is.")
    unknown = sorted(str(fact)[:20] for fact in rig if fact not in FACTS)
    if unknown:
        raise EventRefused(
            "unreadable", f"A rig has no fact “{unknown[0]}”; it has {', '.join(FACTS)}."
        )
    given = {fact: value if isinstance(value, str) else "" for fact, value in rig.items()}
    faults = faults_of_rig(given)
    if faults:
        raise EventRefused("unreadable", " ".join(faults.values()))
    return {"entry": entry, "rig": Rig.read(given), "text": _text(raw)}


_READERS = {
    Kind.OPEN: _read_open,
    Kind.MARK: _read_mark,
    Kind.CLEAR: _read_clear,
    Kind.REMARK: _read_remark,
    Kind.CONCERN: _read_concern,
    Kind.HAND_IN: _read_hand_in,
    Kind.ANSWER: _read_answer,
    Kind.RIG: _read_rig,
}
