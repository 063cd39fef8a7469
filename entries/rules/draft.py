"""What is kept of a form somebody has not sent off: the fields it has, and nothing else."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from unicodedata import category

from entries.rules.eligibility import CREW_MAX
from entries.rules.rig import FACTS
from showrun.shows.rules.planning import MOST_CLASSES

# Longer than any field may be, so that what is too long can still be shortened. [letters]
LONGEST = 4000
FIELDS = (
    *("wagon_name", "outfit", "history", *FACTS, "frontage_ft", "depth_ft", "dietary_notes"),
    *("emergency_name", "emergency_phone"),
    *(f"crew_{part}_{n}" for n in range(1, CREW_MAX + 1) for part in ("name", "role", "minor")),
)


def kept_of(typed: Mapping[str, Sequence[str]]) -> dict[str, list[str]]:
    """Keep what was typed into the form's own fields.

    A photo is not kept, and neither is the name under a waiver: who agrees does so when the entry
    is sent off. Signs that no database holds are left out.

    Parameters
    ----------
    typed : mapping of str to sequence of str
        Field names to their values, as a browser sends them.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> kept_of({"wagon_name": ["Tin Lantern"], "outfit": [""], "token": ["x"],
    ...     "classes": ["trail", "ranch"]})
    {'wagon_name': ['Tin Lantern'], 'classes': ['trail', 'ranch']}
    """
    kept = {
        name: [plain] for name in FIELDS if typed.get(name) and (plain := _plain(typed[name][-1]))
    }
    if classes := list(typed.get("classes", ()))[:MOST_CLASSES]:
        kept["classes"] = [_plain(code) for code in classes]
    return kept


def with_outfit(
    typed: Mapping[str, Sequence[str]], facts: Iterable[tuple[str, object]]
) -> dict[str, list[str]]:
    """Put an outfit's facts in the place of what was typed about the wagon.

    Source
    ------
    Our own rule: a fact the outfit does not have leaves what was typed.

    Examples
    --------
    >>> with_outfit({"wagon_name": ["Tin"], "classes": ["trail"]},
    ...     [("wagon_name", "Tin Lantern"), ("depth_ft", None)])
    {'wagon_name': ['Tin Lantern'], 'classes': ['trail']}
    """
    known = {name: [str(value)] for name, value in facts if value not in (None, "")}
    return {**{name: list(values) for name, values in typed.items()}, **known}


def _plain(text: str) -> str:
    kept = "".join(c for c in text if c in "\n\r\t" or category(c) not in ("Cc", "Cs"))
    return kept[:LONGEST]
