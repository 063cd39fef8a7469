"""Why a panel cannot be drawn: places, judges and missing looks, from the minimum cut."""

from __future__ import annotations

from collections.abc import Collection, Hashable, Mapping, Sequence
from dataclasses import dataclass

from judging.rules.panels.flow import Entry, Judge, Names, Place, Table, once
from judging.rules.panels.pins import JudgeOffer, Task
from showrun.language import gettext as _
from showrun.language import listed as joined
from showrun.language import ngettext


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
    """No panel keeps the rules; says which places collide with which judges, and by how much.

    Where looks are not short, the `sentences` say what else collides, such as two pins.
    """

    def __init__(self, shortages: Sequence[Shortage], sentences: Sequence[str] = ()) -> None:
        self.shortages = tuple(shortages)
        self.short = sum(shortage.short for shortage in self.shortages)
        self.sentences = (*sentences, *(shortage.sentence for shortage in self.shortages))
        super().__init__(" ".join(self.sentences))


@dataclass(frozen=True)
class Cut:
    """The minimum cut: its places, the judges used up, and who is held back beside seniors.

    `held_back` are, for each place, the novices who find no seat there because a senior must
    sit beside them: of those only `most_novices` count.
    """

    places: tuple[Place, ...]
    exhausted: frozenset[int]

    def held_back(self, place: Place) -> frozenset[int]:
        handed = (place.sitting - place.fixed) & place.novices & self.exhausted
        if place.closed_to_novices and not handed:
            return place.novices
        return frozenset()


def minimum_cut(table: Table) -> Cut:
    """Who and what can be reached backwards from the looks that are short."""
    exhausted: set[int] = set()
    reach = [judge for place in table.places if place.short > 0 for judge in place.open_to]
    while reach:
        judge = reach.pop()
        if judge not in exhausted:
            exhausted.add(judge)
            reach.extend(table.successors[judge])
    return Cut(
        tuple(
            place
            for place in table.places
            if place.short > 0 or (place.sitting - place.fixed) & exhausted
        ),
        frozenset(exhausted),
    )


def shortages(table: Table, names: Names) -> list[Shortage]:
    """The minimum cut of the flow, one shortage for each part of it that stands alone."""
    cut = minimum_cut(table)
    return [_shortage(table, part, cut, names) for part in _parts(cut.places, cut.exhausted)]


def _parts(cut: Sequence[Place], exhausted: Collection[int]) -> list[list[Place]]:
    """Split the cut: places hang together by their section or by a judge whose limit is used up."""
    parts: list[tuple[set[Hashable], list[Place]]] = []
    for place in cut:
        keys: set[Hashable] = {
            place.section,
            *(judge for judge in place.allowed if judge in exhausted),
        }
        touching = [part for part in parts if part[0] & keys]
        members = [place]
        for part in touching:
            keys |= part[0]
            members = part[1] + members
            parts.remove(part)
        parts.append((keys, members))
    return [members for _, members in parts]


def _shortage(table: Table, part: Sequence[Place], cut: Cut, names: Names) -> Shortage:
    gives: dict[int, int] = {}
    held = [(place, cut.held_back(place)) for place in part]
    for j, offer in enumerate(table.offers):
        count = sum(j in place.allowed - back for place, back in held)
        if any(j in place.allowed or place.section in offer.sections for place in part):
            gives[j] = _left(table, part, j, cut) if count and j in cut.exhausted else count
    helpers = [j for j in gives if any(j in place.allowed for place in part)]
    needed = sum(place.needed for place in part)
    beside = sum(place.most_novices or 0 for place, back in held if back)
    available = sum(gives.values()) + beside
    sections = tuple(once(place.section for place in part))
    entries = tuple(once(place.entry for place in part))
    many = len(sections) > 1
    parts_in_words = [_asked(part, section) for section in sections]
    asked = "; ".join(
        f"{named(s, names)}: {words}" if many else words
        for s, words in zip(sections, parts_in_words, strict=True)
    )
    given = _given(table, part, gives, cut, names)
    if any(back for _, back in held):
        given += _(", and novices {n} between them (only beside a senior)").format(n=beside)
    who = _who(len(helpers), many=many).format(n=len(helpers), available=available)
    said = (
        _("{places} need {looks} ({asked}) but {judges}; {short} short.")
        if many
        else _("{places} needs {looks} ({asked}) but {judges}; {short} short.")
    )
    sentence = said.format(
        places=_where(table, part, sections, entries, names),
        looks=counted(needed, "look"),
        asked=asked,
        judges=f"{who}: {given}" if given else who,
        short=counted(needed - available, "look"),
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


def _who(judges: int, *, many: bool) -> str:
    """Who may judge the places, and how much they can give."""
    if not judges:
        return _("no judge may judge them") if many else _("no judge may judge it")
    if many:
        return ngettext(
            "only {n} judge may judge them and can give {available}",
            "only {n} judges may judge them and can give {available}",
            judges,
        )
    return ngettext(
        "only {n} judge may judge it and can give {available}",
        "only {n} judges may judge it and can give {available}",
        judges,
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
        wagons = listed([named(entry, names) for entry in entries])
        words = _("{sections} at {wagons}").format(sections=words, wagons=wagons)
    return _("{places} together").format(places=words) if len(sections) > 1 else words


def _asked(part: Sequence[Place], section: str) -> str:
    here = [place for place in part if place.section == section]
    return _("{wagons} x {judges}").format(
        wagons=counted(len(here), "wagon"), judges=counted(here[0].needed, "judge")
    )


def _given(
    table: Table,
    part: Sequence[Place],
    gives: Mapping[int, int],
    cut: Cut,
    names: Names,
) -> str:
    """What each judge can give and what holds the judge back; the held back come first."""
    said = {judge: _reason(table, part, judge, cut, names) for judge in gives}
    most = 8
    order = sorted(gives, key=lambda judge: not said[judge]) if len(gives) > most else list(gives)
    words = [
        f"{named(table.offers[judge].judge, names)} {gives[judge]}{said[judge]}"
        for judge in order[:most]
    ]
    if rest := order[most:]:
        given = sum(gives[judge] for judge in rest)
        words.append(_("{n} more {given} between them").format(n=len(rest), given=given))
    return ", ".join(words)


def _reason(
    table: Table,
    part: Sequence[Place],
    judge: int,
    cut: Cut,
    names: Names,
) -> str:
    offer = table.offers[judge]
    reasons = [_("novice")] if any(judge in cut.held_back(place) for place in part) else []
    barred = once(
        place.entry
        for place in part
        if place.section in offer.sections
        and place.entry in offer.barred
        and judge not in place.allowed
    )
    kept_off = once(
        place.entry
        for place in part
        if judge not in place.allowed and offer.may_sit(place.entry, place.section)
    )
    if barred:
        wagons = listed([named(entry, names) for entry in barred])
        reasons.append(_("in conflict with {wagons}").format(wagons=wagons))
    if kept_off:
        wagons = listed([named(entry, names) for entry in kept_off])
        reasons.append(_("must not sit at {wagons}").format(wagons=wagons))
    if judge in cut.exhausted:
        reasons.append(_limit(table, judge))
        if elsewhere := (table.limits[judge] or 0) - _left(table, part, judge, cut):
            reasons.append(_("{n} set elsewhere").format(n=elsewhere))
    return f" ({', '.join(reasons)})" if reasons else ""


def _limit(table: Table, judge: int) -> str:
    """What limits a judge, in the words it was set in."""
    offer, limit = table.offers[judge], table.limits[judge] or 0
    if offer.max_minutes is not None and limit != offer.max_seats:
        return _("there for {minutes}, at most {seats}").format(
            minutes=counted(offer.max_minutes, "minute"), seats=counted(limit, "seat")
        )
    return _("limit {seats}").format(seats=counted(limit, "seat"))


def pin_faults(task: Task, names: Names) -> list[str]:
    """What is wrong with the seats set by hand, before anybody else is seated."""
    pinned, banned = task.pinned(), task.banned()
    said = []
    for (entry, section), sitting in pinned.items():
        where = _("at {wagon}, {section}").format(
            wagon=named(entry, names), section=named(section, names)
        )
        who = [task.judges[j] for j in sorted(sitting)]
        for offer in who:
            if why := _why_not(offer, entry, section, banned):
                said.append(why.format(judge=named(offer.judge, names), where=where))
        most = task.judges_per_section[section]
        if len(who) > most:
            said.append(
                ngettext(
                    "{n} judge must sit {where}, which takes {most}.",
                    "{n} judges must sit {where}, which takes {most}.",
                    len(who),
                ).format(n=len(who), where=where, most=most)
            )
        novices = [offer for offer in who if offer.novice]
        if task.novices_beside_seniors and len(who) <= most == len(novices):
            only = _("Only novices must sit {where}, and a novice sits only beside a senior.")
            said.append(only.format(where=where))
    return said + [
        sentence
        for j, offer in enumerate(task.judges)
        for sentence in _too_many_pins(
            task, offer, [p for p, on in pinned.items() if j in on], names
        )
    ]


def _why_not(
    offer: JudgeOffer, entry: Entry, section: str, banned: Collection[tuple[Judge, Entry, str]]
) -> str:
    if entry in offer.barred:
        return _("{judge} must sit {where}, but is in conflict with it.")
    if section not in offer.sections:
        return _("{judge} must sit {where}, but is not engaged for that section.")
    if (offer.judge, entry, section) in banned:
        return _("{judge} must sit {where}, but must not sit there either.")
    return ""


def minutes_fault(task: Task, names: Names) -> list[str]:
    """Say that the looks are too long for judges who are there for a part of the time."""
    held = [
        f"{named(offer.judge, names)} {counted(offer.max_minutes, 'minute')}"
        for offer in task.judges
        if offer.max_minutes is not None
    ]
    return [
        _(
            "No panel was found that keeps to the minutes some judges are there, though the number "
            "of looks would fit: {judges}."
        ).format(judges=listed(held))
    ]


def _too_many_pins(
    task: Task, offer: JudgeOffer, places: Sequence[tuple[Entry, str]], names: Names
) -> list[str]:
    minutes = sum(task.weight(section) for _, section in places)
    who, at = named(offer.judge, names), counted(len(places), "place")
    said = []
    if offer.max_seats is not None and len(places) > offer.max_seats:
        seats = counted(offer.max_seats, "seat")
        limit = _("{judge} must sit at {places} and has a limit of {seats}.")
        said.append(limit.format(judge=who, places=at, seats=seats))
    if offer.max_minutes is not None and minutes > offer.max_minutes:
        there = counted(offer.max_minutes, "minute")
        long = _("{judge} must sit at {places}, {minutes} of judging, and is there for {there}.")
        said.append(
            long.format(judge=who, places=at, minutes=counted(minutes, "minute"), there=there)
        )
    return said


def _left(table: Table, part: Sequence[Place], judge: int, cut: Cut) -> int:
    """Seats of a used-up judge's limit that are not bound to places elsewhere by pins."""
    bound = sum(judge in place.fixed for place in table.places)
    here = sum(judge in place.fixed - cut.held_back(place) for place in part)
    return max(0, (table.limits[judge] or 0) - bound + here)


def named(thing: Hashable, names: Names) -> str:
    """Name a thing as people do, or by its key."""
    return names.get(thing, str(thing))


def counted(number: int, noun: str) -> str:
    """Say how many of something, in digits."""
    return {
        "judge": ngettext("{n} judge", "{n} judges", number),
        "look": ngettext("{n} look", "{n} looks", number),
        "minute": ngettext("{n} minute", "{n} minutes", number),
        "place": ngettext("{n} place", "{n} places", number),
        "seat": ngettext("{n} seat", "{n} seats", number),
        "wagon": ngettext("{n} wagon", "{n} wagons", number),
    }[noun].format(n=number)


def listed(words: Sequence[str], most: int = 8) -> str:
    """List words, the first `most` of them, and say how many more there are."""
    shown = list(words[:most])
    if len(words) > most:
        more = len(words) - most
        shown.append(ngettext("{n} more", "{n} more", more).format(n=more))
    return joined(shown)
