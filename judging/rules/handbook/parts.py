"""The handbook of parts: what a part is for, where to look, and what its failure does."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from judging.rules.cards.condition import Condition, check

DANGERS = {
    "A": "do not move the team",
    "B": "mend before moving",
    "C": "score only",
}
# What every part of danger A says of its failure.
DEFERS = "raise a safety concern; a mark is never a clearance"
CODE = re.compile(r"[a-z][a-z0-9_]*")
# Longest texts: what a phone shows without scrolling away from the row.
LONGEST = {"name": 48, "group": 32, "job": 130, "look": 240, "fails": 260, "prepare": 200}
NEEDED = ("name", "group", "job", "look", "fails", "prepare", "source")
KNOWN = {"code", *NEEDED, "rigs", "danger", "drawing", "mark"}


@dataclass(frozen=True)
class Part:
    """One part of harness, wagon or camp.

    `drawing` names a drawing of the handbook, `mark` the part's number in it; "" and 0 where
    it is not drawn. `rigs` is a condition over the rig, empty for every rig.
    """

    code: str
    name: str
    group: str
    job: str
    look: str
    fails: str
    prepare: str
    source: str
    rigs: Condition = field(default_factory=dict)
    danger: str = "C"
    drawing: str = ""
    mark: int = 0

    @property
    def danger_words(self) -> str:
        """What the danger letter asks for."""
        return DANGERS[self.danger]


class HandbookFaults(ValueError):
    """A handbook that cannot be used; `faults` has a sentence for each part at fault."""

    def __init__(self, faults: Mapping[str, str]) -> None:
        super().__init__("; ".join(f"{code}: {text}" for code, text in faults.items()))
        self.faults = dict(faults)


def read_parts(data: object) -> dict[str, Part]:
    """Read the handbook's parts by code, in the order they are written.

    Parameters
    ----------
    data : object
        Plain data: a sequence of mappings with the fields of `Part`.

    Returns
    -------
    dict of str to Part

    Raises
    ------
    HandbookFaults
        With a sentence for each part at fault, all in one go.

    Notes
    -----
    A part of danger A must say “raise a safety concern; a mark is never a clearance”. Two parts
    never share a number in a drawing.

    Source
    ------
    Our own rule. The letters and facts themselves are data, each part with its own source.

    Examples
    --------
    >>> line = {"code": "bit", "name": "Bit", "group": "Control", "job": "Signals.",
    ...         "look": "Wear.", "fails": "It pinches.", "prepare": "Hang it up.",
    ...         "source": "common practice, no source"}
    >>> read_parts([line])["bit"].danger_words
    'score only'
    >>> read_parts([line | {"danger": "A"}])
    Traceback (most recent call last):
    ...
    judging.rules.handbook.parts.HandbookFaults: bit: A part of danger A must say “raise a
    safety concern; a mark is never a clearance”.
    """
    if not isinstance(data, list | tuple):
        raise HandbookFaults({"parts": "The parts are a list."})
    faults: dict[str, str] = {}
    parts: dict[str, Part] = {}
    drawn: dict[tuple[str, int], str] = {}
    for place, line in enumerate(data):
        code = str(line.get("code", "")) if isinstance(line, Mapping) else ""
        fault = _fault(line) if code else "A part needs a code."
        if not fault and code in parts:
            fault = "Two parts have this code."
        if fault:
            faults[code or f"parts.{place}"] = fault
            continue
        part = _part(line)
        where = (part.drawing, part.mark)
        if part.mark and where in drawn:
            faults[code] = f"“{drawn[where]}” has number {part.mark} in {part.drawing} already."
        drawn[where] = code
        parts[code] = part
    if faults:
        raise HandbookFaults(faults)
    return parts


def _part(line: Mapping[str, Any]) -> Part:
    texts = {name: " ".join(str(line[name]).split()) for name in NEEDED}
    return Part(
        code=line["code"],
        rigs=line.get("rigs", {}),
        danger=line.get("danger", "C"),
        drawing=line.get("drawing", ""),
        mark=line.get("mark", 0),
        **texts,
    )


def _fault(line: Mapping[str, Any]) -> str:
    """Say the first thing wrong with a part, or nothing."""
    if not CODE.fullmatch(line["code"]):
        return "A code is small letters, figures and underscores."
    if extra := sorted(set(line) - KNOWN):
        return f"Nobody reads “{extra[0]}”."
    if lacking := [name for name in NEEDED if not str(line.get(name) or "").strip()]:
        return f"“{lacking[0]}” is missing."
    for name, longest in LONGEST.items():
        if len(" ".join(str(line[name]).split())) > longest:
            return f"“{name}” is longer than {longest} letters, too long for a phone."
    return _fault_of_danger(line) or _fault_of_drawing(line) or _fault_of_rigs(line)


def _fault_of_danger(line: Mapping[str, Any]) -> str:
    if line.get("danger", "C") not in DANGERS:
        return "The danger letter is A, B or C."
    words = " ".join(str(line["fails"]).lower().split())
    if line.get("danger") == "A" and DEFERS not in words:
        return f"A part of danger A must say “{DEFERS}”."
    return ""


def _fault_of_drawing(line: Mapping[str, Any]) -> str:
    drawing, mark = line.get("drawing", ""), line.get("mark", 0)
    if not isinstance(drawing, str) or type(mark) is not int or mark < 0:
        return "A drawing is a name, its mark a whole number."
    if bool(drawing) != bool(mark):
        return "A drawing and the number in it come together."
    return ""


def _fault_of_rigs(line: Mapping[str, Any]) -> str:
    try:
        check(line.get("rigs", {}))
    except ValueError as fault:
        return str(fault)
    return ""
