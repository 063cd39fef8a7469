"""The events a judge's phone sends, without id, count and time: `judged_show.send` adds them."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from entries.models import Entry
from judging.models import Question


def mark(entry: Entry, criterion: str, value: int | str | Decimal) -> dict[str, Any]:
    """Return the event of a mark given; `send` adds id, count and time."""
    return {"kind": "mark", "entry": entry.pk, "criterion": criterion, "state": "marked",
            "value": str(value)}  # fmt: skip


def not_inspected(entry: Entry, criterion: str) -> dict[str, Any]:
    """Return the event of a row that could not be inspected."""
    return {"kind": "mark", "entry": entry.pk, "criterion": criterion, "state": "not_inspected",
            "value": None}  # fmt: skip


def clear(entry: Entry, criterion: str) -> dict[str, Any]:
    """Return the event of a mark taken back."""
    return {"kind": "clear", "entry": entry.pk, "criterion": criterion}


def remark(entry: Entry, section: str, text: str) -> dict[str, Any]:
    """Return the event of words on a section."""
    return {"kind": "remark", "entry": entry.pk, "section": section, "text": text}


def concern(entry: Entry, degree: str, text: str, criterion: str | None = None) -> dict[str, Any]:
    """Return the event of a safety concern: stop, mend or note."""
    return {"kind": "concern", "entry": entry.pk, "criterion": criterion, "degree": degree,
            "text": text}  # fmt: skip


def opened(entry: Entry) -> dict[str, Any]:
    """Return the event of a card opened."""
    return {"kind": "open", "entry": entry.pk}


def hand_in(entry: Entry) -> dict[str, Any]:
    """Return the event of a card handed in."""
    return {"kind": "hand_in", "entry": entry.pk}


def answer(
    question: Question, verdict: str, value: int | str | None = None, text: str = ""
) -> dict[str, Any]:
    """Return the event of a judge's answer to a question."""
    given = None if value is None else str(value)
    return {"kind": "answer", "question": question.pk, "verdict": verdict, "value": given,
            "text": text}  # fmt: skip


def rig_found(entry: Entry, facts: Mapping[str, str], text: str = "") -> dict[str, Any]:
    """Return the event of a rig found to be other than it was entered."""
    return {"kind": "rig", "entry": entry.pk, "rig": dict(facts), "text": text}
