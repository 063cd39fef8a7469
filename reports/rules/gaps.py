"""What a sheet says of a result that was released although cards are missing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from reports.rules.award import number
from reports.rules.counting import TOLD
from showrun.language import gettext as _
from showrun.language import listed, ngettext

MOST_NAMED = 8
NO_LETTERS: Mapping[str, str] = MappingProxyType({})


@dataclass(frozen=True)
class MissingSaid:
    """What is told of the cards missing: of the reader's own wagon, of others, how they counted."""

    own: str
    others: str
    counted: str


def missing_said(
    gaps: Iterable[Mapping[str, Any]],
    method: str,
    sections: Mapping[str, str],
    *,
    own: int | None = None,
    letters: Mapping[str, str] = NO_LETTERS,
    most: int = MOST_NAMED,
) -> MissingSaid | None:
    """Name the cards a result lacks; None where it lacks none.

    Parameters
    ----------
    gaps : iterable of mapping
        With ``entry`` (its number), ``judge`` and ``section``, as the result keeps them.
    method : str
        One of ``METHODS``.
    sections : mapping of section code to str
        Names of all sections the class counts, in order.
    own : int, optional
        The reader's entry.
    letters : mapping of judge to str, optional
        What the reader calls the judges of that entry.
    most : int
        Other entries named; of the rest the number is told.

    Notes
    -----
    Judges of other wagons are counted and not named: a letter means a judge on one sheet only.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> gaps = [{"entry": entry, "judge": judge, "section": "h"}
    ...         for entry, judge in ((4, "J2"), (7, "J1"), (7, "J2"))]
    >>> names = {"b": "Wagon box", "h": "Harness"}
    >>> told = missing_said(gaps, "plain", names, own=4, letters={"J2": "Judge B"})
    >>> told.own, told.others
    ('Judge B, Harness', 'entry 7, Harness (two judges)')
    """
    cards: dict[int, dict[str, set[str]]] = {}
    for gap in gaps:
        of_entry = cards.setdefault(gap["entry"], {})
        of_entry.setdefault(gap["judge"], set()).add(gap["section"])
    if not cards:
        return None
    mine = cards.pop(own, {}) if own is not None else {}
    named = [
        _("entry {entry}, {sections}").format(
            entry=entry, sections=_by_sections(cards[entry].values(), sections)
        )
        for entry in sorted(cards)
    ]
    more = len(named) - most
    if more > 0:
        named[most:] = [
            ngettext("and {n} more entry", "and {n} more entries", more).format(n=number(more))
        ]
    called = sorted((letters.get(judge, _("one judge")), codes) for judge, codes in mine.items())
    return MissingSaid(
        own="; ".join(f"{judge}, {_listed(codes, sections)}" for judge, codes in called),
        others="; ".join(named),
        counted=_("No missing card was counted as zero: {instead}.").format(
            instead=_(TOLD[method].missing)
        ),
    )


def _by_sections(cards: Iterable[set[str]], sections: Mapping[str, str]) -> str:
    """Name what an entry lacks; judges who lack the same are counted together."""
    judges = Counter(_listed(codes, sections) for codes in cards)
    return "; ".join(
        _("{names} ({n} judges)").format(names=names, n=number(count)) if count > 1 else names
        for names, count in sorted(judges.items())
    )


def _listed(codes: Collection[str], sections: Mapping[str, str]) -> str:
    """Name sections in the card's order."""
    if len(codes) > 1 and set(codes) >= set(sections):
        return _("all sections")
    here = [code for code in sections if code in codes]
    here += sorted(code for code in codes if code not in sections)
    return listed([sections.get(code, code) for code in here])
