"""The rules of a panel one by one, so that each can be left out and the panel drawn again."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace
from enum import Enum

from judging.rules.panels.flow import Place, Table, fill, places_of
from judging.rules.panels.integer import MANY_SEATS, Program
from judging.rules.panels.levelling import within_minutes
from judging.rules.panels.pins import Entry, Judge, Names, Pin, Task
from judging.rules.panels.shortage import listed, minimum_cut, named
from showrun.language import gettext as _
from showrun.language import ngettext


class Kind(Enum):
    """The kinds of rules that can collide, in the order they are told."""

    LOOKS = "looks of a section"
    CONFLICT = "conflict"
    MUST = "must sit"
    MUST_NOT = "must not sit"
    SEATS = "limit of seats"
    MINUTES = "limit of minutes"
    NOT_ENGAGED = "not engaged for a section"
    BESIDE_SENIOR = "novices beside seniors"


@dataclass(frozen=True)
class Rule:
    """One rule of a panel, and its sentence.

    Parameters
    ----------
    kind
        What sort of rule.
    judge, entry, section, number
        Whom and what it is about; ``None`` where it is about none.
    sentence
        The rule in words.
    pin
        The seat set by hand, where the rule is one.
    """

    kind: Kind
    sentence: str = field(compare=False)
    judge: Judge | None = None
    entry: Entry | None = None
    section: str | None = None
    number: int | None = None
    pin: Pin | None = None

    def alike(self, other: Rule, name: str) -> bool:
        """Whether both are of one kind and about the same judge, or section."""
        return self.kind is other.kind and bool(getattr(self, name) == getattr(other, name))

    def where(self, names: Names) -> str:
        """The places of a seat set by hand."""
        section = _("every section") if self.section is None else named(self.section, names)
        return f"{named(self.entry, names)}, {section}"


def rules_of(task: Task, names: Names) -> list[Rule]:
    """Every rule of the task, one by one."""
    asked = {section for _, section in task.places()}
    rules = [
        Rule(
            Kind.LOOKS,
            ngettext(
                "In {section} each wagon is looked at by {n} judge.",
                "In {section} each wagon is looked at by {n} judges.",
                looks,
            ).format(section=named(section, names), n=looks),
            section=section,
            number=looks,
        )
        for section, looks in task.judges_per_section.items()
        if section in asked
    ]
    for offer in task.judges:
        who = named(offer.judge, names)
        rules += [
            Rule(
                Kind.CONFLICT,
                _("{judge} is in conflict with {wagons}.").format(
                    judge=who, wagons=named(entry, names)
                ),
                judge=offer.judge,
                entry=entry,
            )
            for entry in task.entries
            if entry in offer.barred
        ]
    rules += [_pin_rule(pin, names) for pin in dict.fromkeys(task.pins)]
    for offer in task.judges:
        who = named(offer.judge, names)
        if (seats := offer.max_seats) is not None:
            said = ngettext(
                "{judge} takes at most {n} seat.", "{judge} takes at most {n} seats.", seats
            ).format(judge=who, n=seats)
            rules.append(Rule(Kind.SEATS, said, judge=offer.judge, number=seats))
        if (minutes := offer.max_minutes) is not None:
            said = ngettext(
                "{judge} is there for {n} minute of judging.",
                "{judge} is there for {n} minutes of judging.",
                minutes,
            ).format(judge=who, n=minutes)
            rules.append(Rule(Kind.MINUTES, said, judge=offer.judge, number=minutes))
    rules += [
        Rule(
            Kind.NOT_ENGAGED,
            _("{judge} is not engaged for {section}.").format(
                judge=named(offer.judge, names), section=named(section, names)
            ),
            judge=offer.judge,
            section=section,
        )
        for section in task.judges_per_section
        if section in asked
        for offer in task.judges
        if section not in offer.sections
    ]
    novices = [named(offer.judge, names) for offer in task.judges if offer.novice]
    if task.novices_beside_seniors and novices:
        said = ngettext(
            "A novice sits only beside a senior, and {judges} is a novice.",
            "A novice sits only beside a senior, and {judges} are novices.",
            len(novices),
        ).format(judges=listed(novices))
        rules.append(Rule(Kind.BESIDE_SENIOR, said))
    return rules


def _pin_rule(pin: Pin, names: Names) -> Rule:
    kind = Kind.MUST if pin.must else Kind.MUST_NOT
    rule = Rule(kind, "", judge=pin.judge, entry=pin.entry, section=pin.section, pin=pin)
    said = _("{judge} must sit at {where}.") if pin.must else _("{judge} must not sit at {where}.")
    said = said.format(judge=named(pin.judge, names), where=rule.where(names))
    return replace(rule, sentence=said)


def possible(task: Task, rules: Collection[Rule], *, found: bool = False) -> bool:
    """Whether a panel keeps these rules of the task and no others.

    In a large show limits of minutes are counted as kept when seats could be shared by the
    minute, so that a no is a proof; where a panel must be `found`, it is.
    """
    task = _only(task, rules)
    places = _places(task, rules)
    if places is None:
        return False
    table = fill(task, places, seed=0)
    if any(place.short for place in places):
        return False
    over = any(
        limit is not None and load > limit
        for load, limit in zip(table.loads, table.limits, strict=True)
    )
    if over:
        return False
    if within_minutes(table, task):
        return True
    large = sum(len(place.allowed) for place in places) > MANY_SEATS
    if large and found:
        return False
    program = Program(task, places, table.limits)
    return program.shared_out() if large else program.any_panel() is not None


def _only(task: Task, rules: Collection[Rule]) -> Task:
    """The task with all other rules left out; pins speak of the places they spoke of before."""
    kept = set(rules)
    has = {(rule.kind, rule.judge, rule.entry, rule.section) for rule in kept}
    looks = {s: n for s, n in task.judges_per_section.items() if (Kind.LOOKS, None, None, s) in has}
    offers = [
        replace(
            offer,
            sections=frozenset(
                section
                for section in task.judges_per_section
                if section in offer.sections
                or (Kind.NOT_ENGAGED, offer.judge, None, section) not in has
            ),
            barred=frozenset(
                entry for entry in offer.barred if (Kind.CONFLICT, offer.judge, entry, None) in has
            ),
            max_seats=offer.max_seats if (Kind.SEATS, offer.judge, None, None) in has else None,
            max_minutes=offer.max_minutes
            if (Kind.MINUTES, offer.judge, None, None) in has
            else None,
        )
        for offer in task.judges
    ]
    pins = [
        Pin(pin.judge, entry, section, pin.must)
        for pin in (rule.pin for rule in kept)
        if pin is not None
        for entry, section in task.reach(pin)
    ]
    return replace(
        task,
        judges=offers,
        judges_per_section={**dict.fromkeys(task.judges_per_section, 0), **looks},
        pins=pins,
        novices_beside_seniors=(Kind.BESIDE_SENIOR, None, None, None) in has,
    )


def _places(task: Task, rules: Collection[Rule]) -> list[Place] | None:
    """The places still asked for, or ``None`` where seats set by hand break a rule there."""
    counted_sections = {rule.section for rule in rules if rule.kind is Kind.LOOKS}
    banned = task.banned()
    places = []
    for place in places_of(task):
        if place.section not in counted_sections:
            place.needed, place.most_novices = len(place.fixed), None
        for judge in place.fixed:
            offer = task.judges[judge]
            out = (offer.judge, place.entry, place.section) in banned
            if out or not offer.may_sit(place.entry, place.section):
                return None
        novices = len(place.fixed & place.novices)
        crowded = place.most_novices is not None and novices > place.most_novices
        if len(place.fixed) > place.needed or crowded:
            return None
        if place.needed:
            places.append(place)
    return places


def suspects(task: Task, rules: Sequence[Rule]) -> list[Rule]:
    """The rules that matter for the minimum cut; all of them where looks are not what is short."""
    places = _places(_only(task, rules), rules)
    if places is None:
        return list(rules)
    table = fill(task, places, seed=0)
    if not any(place.short for place in places):
        return list(rules)
    found = [rule for rule in rules if _matters(task, table, rule)]
    return list(rules) if possible(task, found) else found


def _matters(task: Task, table: Table, rule: Rule) -> bool:
    cut = minimum_cut(table)
    sections = {place.section for place in cut.places}
    position = next((j for j, o in enumerate(task.judges) if o.judge == rule.judge), None)
    if rule.kind is Kind.LOOKS:
        return rule.section in sections
    if rule.kind in (Kind.SEATS, Kind.MINUTES):
        return position in cut.exhausted
    if rule.kind is Kind.NOT_ENGAGED:
        return rule.section in sections and position not in cut.exhausted
    if rule.kind is Kind.CONFLICT:
        there = any(place.entry == rule.entry for place in cut.places)
        return there and position not in cut.exhausted
    return True
