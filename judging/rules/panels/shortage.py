"""Why a panel cannot be drawn: places, judges and missing looks, from the minimum cut."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass

from judging.rules.panels.flow import Entry, Judge, Names, Place, Table, once


@dataclass(frozen=True)
class Shortage:
    """Places that together ask for more looks than the judges allowed there can give.

    Parameters
    ----------
    sections, entries
        The places: these sections at these entries.
    judges
        Everyone who may judge at least one of the places.
    needed, available, short
        Looks asked for, looks the judges can give, and the difference [looks].
    sentence
        The same in words.
    """

    sections: tuple[str, ...]
    entries: tuple[Entry, ...]
    judges: tuple[Judge, ...]
    needed: int
    available: int
    short: int
    sentence: str


class PanelImpossible(ValueError):
    """No panel keeps the rules; says which places collide with which judges, and by how much."""

    def __init__(self, shortages: Sequence[Shortage]) -> None:
        self.shortages = tuple(shortages)
        self.short = sum(shortage.short for shortage in self.shortages)
        super().__init__(" ".join(shortage.sentence for shortage in self.shortages))


def shortages(table: Table, names: Names) -> list[Shortage]:
    """The minimum cut of the flow, one shortage for each part of it that stands alone."""
    exhausted: set[int] = set()
    reach = [judge for place in table.places if place.short for judge in place.open_to]
    while reach:
        judge = reach.pop()
        if judge not in exhausted:
            exhausted.add(judge)
            reach.extend(table.successors[judge])
    cut = [place for place in table.places if place.short or place.sitting & exhausted]
    return [_shortage(table, part, exhausted, names) for part in _parts(cut, exhausted)]


def _parts(cut: Sequence[Place], exhausted: set[int]) -> list[list[Place]]:
    """Split the cut: places hang together by their section or by a judge whose limit is used up."""
    parts: list[tuple[set[Hashable], list[Place]]] = []
    for place in cut:
        keys: set[Hashable] = {place.section, *(place.allowed & exhausted)}
        touching = [part for part in parts if part[0] & keys]
        members = [place]
        for part in touching:
            keys |= part[0]
            members = part[1] + members
            parts.remove(part)
        parts.append((keys, members))
    return [members for _, members in parts]


def _shortage(table: Table, part: Sequence[Place], exhausted: set[int], names: Names) -> Shortage:
    gives: dict[int, int] = {}
    for j, offer in enumerate(table.offers):
        count = sum(j in place.allowed for place in part)
        if count or any(place.section in offer.sections for place in part):
            gives[j] = (offer.max_seats or 0) if count and j in exhausted else count
    helpers = [j for j in gives if any(j in place.allowed for place in part)]
    needed = sum(place.needed for place in part)
    available = sum(gives.values())
    sections = tuple(once(place.section for place in part))
    entries = tuple(once(place.entry for place in part))
    many = len(sections) > 1
    parts_in_words = [_asked(part, section) for section in sections]
    asked = "; ".join(
        f"{named(s, names)}: {words}" if many else words
        for s, words in zip(sections, parts_in_words, strict=True)
    )
    given = _given(table, part, gives, exhausted, names)
    who = (
        f"only {_count(len(helpers), 'judge')} may judge {'them' if many else 'it'} "
        f"and can give {available}"
        if helpers
        else f"no judge may judge {'them' if many else 'it'}"
    )
    sentence = (
        f"{_where(table, part, sections, entries, names)} "
        f"{'need' if many else 'needs'} {_count(needed, 'look')} ({asked}) but {who}"
        f"{': ' + given if given else ''}; {_count(needed - available, 'look')} short."
    )
    return Shortage(
        sections=sections,
        entries=entries,
        judges=tuple(table.offers[j].judge for j in helpers),
        needed=needed,
        available=available,
        short=needed - available,
        sentence=sentence,
    )


def _where(
    table: Table,
    part: Sequence[Place],
    sections: tuple[str, ...],
    entries: tuple[Entry, ...],
    names: Names,
) -> str:
    words = listed([named(section, names) for section in sections])
    everywhere = sum(len(table.of_section(section)) for section in sections)
    if len(part) < everywhere:
        words += f" at {listed([named(entry, names) for entry in entries])}"
    return words + (" together" if len(sections) > 1 else "")


def _asked(part: Sequence[Place], section: str) -> str:
    here = [place for place in part if place.section == section]
    return f"{_count(len(here), 'wagon')} x {_count(here[0].needed, 'judge')}"


def _given(
    table: Table,
    part: Sequence[Place],
    gives: Mapping[int, int],
    exhausted: set[int],
    names: Names,
) -> str:
    """What each judge can give and what holds the judge back; the held back come first."""
    said = {judge: _reason(table, part, judge, exhausted, names) for judge in gives}
    most = 8
    order = sorted(gives, key=lambda judge: not said[judge]) if len(gives) > most else list(gives)
    words = [
        f"{named(table.offers[judge].judge, names)} {gives[judge]}{said[judge]}"
        for judge in order[:most]
    ]
    if rest := order[most:]:
        words.append(f"{len(rest)} more {sum(gives[judge] for judge in rest)} between them")
    return ", ".join(words)


def _reason(
    table: Table,
    part: Sequence[Place],
    judge: int,
    exhausted: set[int],
    names: Names,
) -> str:
    offer = table.offers[judge]
    reasons = []
    barred = once(
        place.entry
        for place in part
        if place.section in offer.sections and place.entry in offer.barred
    )
    if barred:
        reasons.append(f"in conflict with {listed([named(entry, names) for entry in barred])}")
    if judge in exhausted:
        reasons.append(f"limit {_count(offer.max_seats or 0, 'seat')}")
    return f" ({', '.join(reasons)})" if reasons else ""


def named(thing: Hashable, names: Names) -> str:
    return names.get(thing, str(thing))


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"


def listed(words: Sequence[str], most: int = 8) -> str:
    shown = list(words[:most])
    if len(words) > most:
        shown.append(f"{len(words) - most} more")
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} and {shown[-1]}"
