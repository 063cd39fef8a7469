"""What a row of a list says about an entry, and what is wrong with it, cell by cell."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from entries.rules.eligibility import (
    CREW_MAX,
    CREW_NAME_MAX,
    CREW_ROLES,
    faults_of_entry,
    same_name,
)
from entries.rules.entry_sheet import HEADINGS, crew_keys
from entries.rules.particulars import faults_of_particulars, read_feet
from entries.rules.rig import FACTS, WORDS, faults_of_rig
from showrun.language import gettext as _

EMAIL_MAX = 254  # letters
_LABEL = r"[a-zA-Z0-9](?:[a-zA-Z0-9-]{0,61}[a-zA-Z0-9])?"
_EMAIL = re.compile(rf"[a-zA-Z0-9.!#$%&'*+/=?^_`{{|}}~-]{{1,64}}@{_LABEL}(?:\.{_LABEL})+")


@dataclass(frozen=True)
class EntryRow:
    """One row as an entry: the words of a rig and of the crew's parts read as what they mean."""

    line: int
    wagon_name: str
    outfit: str
    history: str
    exhibitor_name: str
    exhibitor_email: str
    rig: Mapping[str, str]
    classes: tuple[str, ...]
    crew: tuple[Mapping[str, Any], ...]
    # Camp, food and whom to call, by the names `enter` has for them.
    particulars: Mapping[str, Any]
    # Sentences about cells that could not be read, by the column's key.
    unread: Mapping[str, str] = field(default_factory=dict)

    @property
    def wagon(self) -> tuple[str, str]:
        """Whose wagon it is and which: what may stand in a show once."""
        return self.exhibitor_email, same_name(self.wagon_name)


@dataclass(frozen=True)
class RowFault:
    """What is wrong, where: the row as a spreadsheet counts it, and the column's heading."""

    line: int
    column: str
    sentence: str


def _word(text: str) -> str:
    return " ".join(re.sub(r"[-_]", " ", text).casefold().split())


_ROLES = {_word(w): role for role, words in CREW_ROLES.items() for w in (role, words)}
_FACTS = {
    name: {_word(w): str(one) for one in kind for w in (one.value, WORDS[one.value])}
    for name, kind in FACTS.items()
}


def read_row(line: int, cells: Mapping[str, str], classes: Mapping[str, str]) -> EntryRow:
    """Read one row; a word nobody knows stays as it stands, for its fault to name.

    Parameters
    ----------
    line : int
        The row as a spreadsheet counts it: the headings are row 1.
    cells : mapping of str to str
        Keys of columns to what stands there.
    classes : mapping of str to str
        Codes of the show's classes to their names; a row may give either, parted by semicolons
        or commas.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> row = read_row(2, {"wagon_name": "Tin  Lantern", "tongue": "Drop tongue",
    ...     "classes": "Trail wagon; ranch", "crew_1": "A. Moor", "crew_1_part": "Head Cook"},
    ...     {"trail": "Trail wagon", "ranch": "Ranch wagon"})
    >>> row.classes, row.rig["tongue"], row.crew
    (('trail', 'ranch'), 'drop', ({'name': 'A. Moor', 'role': 'head_cook', 'under_age': False},))
    """
    said = {key: text.strip() for key, text in cells.items()}
    unread: dict[str, str] = {}
    by_name = {_word(name): code for code, name in classes.items()}
    known = by_name | {_word(code): code for code in classes} | {code: code for code in classes}
    asked = [word.strip() for word in re.split(r"[;,]", said.get("classes", "")) if word.strip()]
    if _word(said.get("classes", "")) in known:
        asked = [said["classes"]]  # a class may have a comma in its name
    return EntryRow(
        line=line,
        wagon_name=said.get("wagon_name", ""),
        outfit=said.get("outfit", ""),
        history=said.get("history", ""),
        exhibitor_name=said.get("exhibitor_name", ""),
        exhibitor_email=said.get("exhibitor_email", "").lower(),
        rig={
            name: words.get(_word(said.get(name, "")), said.get(name, ""))
            for name, words in _FACTS.items()
        },
        classes=tuple(
            dict.fromkeys(known.get(word) or known.get(_word(word), word) for word in asked)
        ),
        crew=_crew(said, unread),
        particulars=_particulars(said, unread),
        unread=unread,
    )


def _crew(said: Mapping[str, str], unread: dict[str, str]) -> tuple[Mapping[str, Any], ...]:
    young = said.get("under_age", "")
    numbers = [int(one) for one in re.findall(r"[0-9]{1,3}", young)]
    if re.sub(r"[0-9 ,;]", "", young) or any(one not in range(1, CREW_MAX + 1) for one in numbers):
        unread["under_age"] = _("Their numbers in the crew, please, such as 3; 4.")
    crew = []
    for number in range(1, CREW_MAX + 1):
        name, part = (said.get(key, "") for key in crew_keys(number))
        if name:
            role = _ROLES.get(_word(part), part)
            crew.append({"name": name, "role": role, "under_age": number in numbers})
        elif part:
            unread.setdefault(
                "crew", _("Crew {number} has a part and no name.").format(number=number)
            )
        elif number in numbers:
            unread.setdefault(
                "under_age", _("There is no name for crew {number}.").format(number=number)
            )
    return tuple(crew)


def _particulars(said: Mapping[str, str], unread: dict[str, str]) -> dict[str, Any]:
    found: dict[str, Any] = {
        key: said.get(key, "") for key in ("dietary_notes", "emergency_name", "emergency_phone")
    }
    for key in ("frontage_ft", "depth_ft"):
        try:
            found[key] = read_feet(said.get(key, ""))
        except ValueError as fault:
            found[key], unread[key] = None, str(fault)
    return found


def fault_of_email(email: str) -> str:
    """Say what is wrong with an e-mail address, nothing when a link can be sent there.

    Parameters
    ----------
    email : str
        At most `EMAIL_MAX` [letters].

    Source
    ------
    WHATWG, HTML Living Standard, "valid e-mail address" (from memory), with a dot in the domain:
    our own rule.

    Examples
    --------
    >>> fault_of_email("cook@showrun.example"), fault_of_email("cook@showrun")
    ('', 'That is not a whole e-mail address, such as cook@example.org.')
    """
    if not email:
        return _("Each entry needs the exhibitor's e-mail address; the link to it goes there.")
    if len(email) > EMAIL_MAX or not _EMAIL.fullmatch(email):
        return _("That is not a whole e-mail address, such as cook@example.org.")
    return ""


def _fault_of_exhibitor(row: EntryRow, first: EntryRow | None) -> str:
    name = row.exhibitor_name
    if not name:
        return _("Each entry needs the exhibitor's name.")
    if len(name) > CREW_NAME_MAX:
        return _("The name is longer than {most} letters.").format(most=CREW_NAME_MAX)
    if not name.isprintable():
        return _("The name holds a sign that cannot be printed.")
    if first and same_name(first.exhibitor_name) != same_name(name):
        return _("Row {line} gives this e-mail address to “{exhibitor_name}”.").format(
            line=first.line, exhibitor_name=first.exhibitor_name
        )
    return ""


def faults_of_rows(
    rows: Sequence[EntryRow],
    *,
    known_classes: Sequence[str],
    entered: Iterable[tuple[str, str]],
) -> list[RowFault]:
    """List everything that bars the list, row by row, so that one look mends all.

    Parameters
    ----------
    rows : sequence of EntryRow
        In the file's order.
    known_classes : sequence of str
        Codes of the show's classes.
    entered : iterable of (str, str)
        E-mail address and `same_name` of each wagon in the show that is not scratched.

    Returns
    -------
    list of RowFault
        Empty when the whole list can be taken.

    Source
    ------
    As `faults_of_entry` and `faults_of_rig`; a list is taken whole or not at all: our own rule.

    Examples
    --------
    >>> row = read_row(2, {"wagon_name": "Tin Lantern", "exhibitor_name": "A. Moor",
    ...     "exhibitor_email": "a@b.example", "classes": "trail", "tongue": "drop", "hitch": "team",
    ...     "draft": "chain", "pattern": "civil", "holdback": "rope", "crew_1": "A. Moor",
    ...     "crew_1_part": "head cook", "crew_2": "B. Oak", "crew_2_part": "cook"}, {})
    >>> for fault in faults_of_rows([row], known_classes=["trail"], entered=[]):
    ...     print(fault.line, fault.column, fault.sentence)
    2 Holdback Pole straps or side-backer, please.
    """
    there = set(entered)
    wagons: dict[tuple[str, str], EntryRow] = {}
    people: dict[str, EntryRow] = {}
    found = []
    for row in rows:
        faults = faults_of_entry(
            wagon_name=row.wagon_name,
            outfit=row.outfit,
            history=row.history,
            classes=row.classes,
            known_classes=known_classes,
            crew=row.crew,
        )
        faults = {**row.unread, **faults_of_particulars(**row.particulars), **faults}
        if row.wagon_name and row.wagon in there:
            faults["wagon_name"] = _("This exhibitor has entered this wagon already.")
        elif row.wagon_name and row.wagon in wagons:
            faults["wagon_name"] = _("The same wagon stands in row {line}.").format(
                line=wagons[row.wagon].line
            )
        faults["exhibitor_name"] = _fault_of_exhibitor(row, people.get(row.exhibitor_email))
        faults["exhibitor_email"] = fault_of_email(row.exhibitor_email)
        faults |= {
            fact: sentence.removeprefix(f"{HEADINGS[fact]}: ").capitalize()
            for fact, sentence in faults_of_rig(row.rig).items()
        }
        wagons.setdefault(row.wagon, row)
        if row.exhibitor_email:
            people.setdefault(row.exhibitor_email, row)
        found += [
            RowFault(row.line, HEADINGS.get(key, "Crew"), sentence)
            for key, sentence in sorted(faults.items(), key=lambda item: _place(item[0]))
            if sentence
        ]
    return found


def _place(key: str) -> int:
    keys = list(HEADINGS)
    return keys.index("crew_1" if key == "crew" else key)
