"""What collides when no panel can be drawn: a smallest set of rules, and what would release it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from judging.rules.panels.colliding import Kind, Rule, possible, rules_of, suspects
from judging.rules.panels.pins import Judge, JudgeOffer, Names, Task
from judging.rules.panels.shortage import listed, named
from showrun.language import gettext as _
from showrun.language import ngettext

ReleaseKind = Literal["pin", "seats", "minutes", "judge", "section", "looks", "novices"]
MOST_MORE_JUDGES = 3
MOST_TRIED = 6  # of limits to raise, and of judges to engage for one section more


@dataclass(frozen=True)
class Release:
    """One change after which a panel can be drawn; that was tried by drawing it.

    Parameters
    ----------
    kind
        ``"pin"``: take it away; ``"seats"``, ``"minutes"``: raise the judge's limit to `number`;
        ``"judge"``: engage `number` more; ``"section"``: engage the judge for it too;
        ``"looks"``: lower the section's to `number`; ``"novices"``: let them sit alone.
    judge, section, number
        Whom or what it is about; ``None`` where it is about none.
    sentence
        The same in words.
    """

    kind: ReleaseKind
    sentence: str
    judge: Judge | None = None
    section: str | None = None
    number: int | None = None


@dataclass(frozen=True)
class Collision:
    """Rules that cannot be kept together, though any of them left out would release the others.

    Parameters
    ----------
    rules
        The smallest set found: no panel keeps them all, one does without any single one of them.
    releases
        Single changes after which the whole panel can be drawn; none where it takes several.
    lines
        The rules in words, those alike told together.
    """

    rules: tuple[Rule, ...]
    releases: tuple[Release, ...]
    lines: tuple[str, ...]


def explain(task: Task, *, names: Names | None = None) -> Collision | None:
    """Say which rules collide, no more than needed, and what would release them.

    Parameters
    ----------
    task
        Everything asked of the panel.
    names
        Words for entries, judges and sections; ``str()`` of those left out.

    Returns
    -------
    Collision or None
        ``None`` when a panel can be drawn, and in a large show also when only the odd lengths
        of the looks keep it from being found.

    Raises
    ------
    ValueError
        For a task that makes no sense, as `assignment.draw` does.

    Notes
    -----
    A rule is one conflict, one seat set by hand, one limit of a judge, one section a judge is
    not engaged for, the looks of one section, or that novices sit beside seniors. The minimum
    cut names the rules that matter; each is then left out in turn and the panel drawn again. A
    rule stays only where leaving it out makes a panel possible, so none can be spared at the
    end. There may be other smallest sets; a release is therefore tried on the whole task.

    Source
    ------
    Bakker, Dikker, Tempelman and Wognum (1993), Diagnosing and solving over-determined
    constraint satisfaction problems, IJCAI (from memory; the deletion of one rule after
    another); that the minimum cut explains a flow, as `assignment.draw`.

    Example
    -------
    >>> from judging.rules.panels.pins import Pin
    >>> task = Task(
    ...     entries=[4, 5],
    ...     entry_sections={4: ("Harness",), 5: ("Harness",)},
    ...     judges=[
    ...         JudgeOffer("Harlan", frozenset({"Harness"}), barred=frozenset({4})),
    ...         JudgeOffer("Cole", frozenset({"Harness"}), max_seats=1),
    ...         JudgeOffer("Wynn", frozenset({"Camp"})),
    ...     ],
    ...     judges_per_section={"Harness": 1, "Camp": 1},
    ...     pins=[Pin("Cole", 5, "Harness")],
    ... )
    >>> collision = explain(task, names={4: "wagon 4", 5: "wagon 5"})
    >>> for line in collision.lines:
    ...     print(line)
    In Harness each wagon is looked at by 1 judge.
    Harlan is in conflict with wagon 4.
    Cole must sit at wagon 5, Harness.
    Cole takes at most 1 seat.
    Wynn is not engaged for Harness.
    >>> for release in collision.releases:
    ...     print(release.sentence)
    Let Cole's seat at wagon 5, Harness, be free.
    Raise Cole's limit to 2 seats.
    Engage 1 more senior judge for Harness.
    Engage Wynn for Harness too.
    """
    task.check()
    words = names or {}
    every = rules_of(task, words)
    if possible(task, every):
        return None
    core = _shrink(task, suspects(task, every))
    return Collision(tuple(core), tuple(_releases(task, every, core, words)), _lines(core, words))


def _shrink(task: Task, rules: Sequence[Rule]) -> list[Rule]:
    """Leave out many, then few, then single rules as long as the rest still collides."""
    core = list(rules)
    size = max(1, len(core) // 2)
    while True:
        start = 0
        while start < len(core):
            rest = core[:start] + core[start + size :]
            if possible(task, rest):
                start += size
            else:
                core = rest
        if size == 1:
            return core
        size //= 2


# --- What would release them ---------------------------------------------------------------


def _releases(
    task: Task, every: Sequence[Rule], core: Sequence[Rule], names: Names
) -> list[Release]:
    sections = list(dict.fromkeys(rule.section for rule in core if rule.kind is Kind.LOOKS))
    found = [
        *(_without(task, every, rule, names) for rule in core if rule.kind in _FREED),
        *(
            _raised(task, rule, names)
            for rule in [r for r in core if r.kind in _RAISED][:MOST_TRIED]
        ),
        _more_judges(task, [s for s in sections if s is not None], names),
        *(
            _without(task, every, rule, names)
            for rule in [r for r in core if r.kind is Kind.NOT_ENGAGED][:MOST_TRIED]
        ),
        *(_fewer_looks(task, s, names) for s in sections if s is not None),
    ]
    return [release for release in found if release is not None]


_FREED = (Kind.MUST, Kind.MUST_NOT, Kind.BESIDE_SENIOR)
_RAISED = (Kind.SEATS, Kind.MINUTES)


def _without(task: Task, every: Sequence[Rule], rule: Rule, names: Names) -> Release | None:
    """Leave the one rule out and draw."""
    if not possible(task, [other for other in every if other != rule], found=True):
        return None
    if rule.kind is Kind.BESIDE_SENIOR:
        return Release("novices", _("Let novices sit without a senior beside them."))
    who = named(rule.judge, names)
    if rule.kind is Kind.NOT_ENGAGED:
        sentence = _("Engage {judge} for {section} too.").format(
            judge=who, section=named(rule.section, names)
        )
        return Release("section", sentence, rule.judge, rule.section)
    if rule.kind is Kind.MUST:
        sentence = _("Let {judge}'s seat at {where}, be free.").format(
            judge=who, where=rule.where(names)
        )
    else:
        sentence = _("Let {judge} sit at {where}.").format(judge=who, where=rule.where(names))
    return Release("pin", sentence, rule.judge, rule.section)


def _raised(task: Task, rule: Rule, names: Names) -> Release | None:
    """Raise one limit to the least that is enough."""
    seats = rule.kind is Kind.SEATS
    places = task.places()
    most = len(places) if seats else sum(task.weight(section) for _, section in places)

    def enough(limit: int) -> bool:
        offers = [
            offer
            if offer.judge != rule.judge
            else replace(offer, max_seats=limit)
            if seats
            else replace(offer, max_minutes=limit)
            for offer in task.judges
        ]
        return _drawn(replace(task, judges=offers))

    number = _least(rule.number or 0, most, enough)
    if number is None:
        return None
    who = named(rule.judge, names)
    if seats:
        sentence = ngettext(
            "Raise {judge}'s limit to {n} seat.", "Raise {judge}'s limit to {n} seats.", number
        ).format(judge=who, n=number)
        return Release("seats", sentence, rule.judge, None, number)
    sentence = ngettext(
        "Have {judge} there for {n} minute of judging.",
        "Have {judge} there for {n} minutes of judging.",
        number,
    ).format(judge=who, n=number)
    return Release("minutes", sentence, rule.judge, None, number)


def _least(low: int, high: int, enough: Callable[[int], bool]) -> int | None:
    """The least number above `low` that is enough, or None if not even `high` is."""
    if high <= low or not enough(high):
        return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


def _more_judges(task: Task, sections: Sequence[str], names: Names) -> Release | None:
    """Engage the fewest more, for the sections that collide, or where others do too, for all."""
    every = list(dict.fromkeys(section for _, section in task.places()))
    for held in [sections, every] if sections else []:
        for number in range(1, MOST_MORE_JUDGES + 1):
            more = [JudgeOffer(("one more", k), frozenset(held)) for k in range(number)]
            if _drawn(replace(task, judges=[*task.judges, *more])):
                which = listed([named(section, names) for section in held])
                sentence = ngettext(
                    "Engage {n} more senior judge for {sections}.",
                    "Engage {n} more senior judges for {sections}.",
                    number,
                ).format(n=number, sections=which)
                return Release("judge", sentence, None, ", ".join(held), number)
    return None


def _fewer_looks(task: Task, section: str, names: Names) -> Release | None:
    for looks in range(task.judges_per_section[section] - 1, 0, -1):
        if _drawn(replace(task, judges_per_section={**task.judges_per_section, section: looks})):
            sentence = ngettext(
                "In {section} ask for {n} judge a wagon.",
                "In {section} ask for {n} judges a wagon.",
                looks,
            ).format(section=named(section, names), n=looks)
            return Release("looks", sentence, None, section, looks)
    return None


def _drawn(task: Task) -> bool:
    return possible(task, rules_of(task, {}), found=True)


# --- In words ------------------------------------------------------------------------------


def _lines(core: Sequence[Rule], names: Names) -> tuple[str, ...]:
    """The rules in words; conflicts of one judge, and judges alike, stand together."""
    said: list[str] = []
    done: set[tuple[Kind, object]] = set()
    for rule in core:
        if rule.kind is Kind.CONFLICT:
            alike, key = [r for r in core if r.alike(rule, "judge")], rule.judge
            which = listed([named(r.entry, names) for r in alike])
            sentence = _("{judge} is in conflict with {wagons}.").format(
                judge=named(rule.judge, names), wagons=which
            )
        elif rule.kind is Kind.NOT_ENGAGED:
            alike, key = [r for r in core if r.alike(rule, "section")], rule.section
            who = listed([named(r.judge, names) for r in alike])
            sentence = ngettext(
                "{judges} is not engaged for {section}.",
                "{judges} are not engaged for {section}.",
                len(alike),
            ).format(judges=who, section=named(rule.section, names))
        else:
            said.append(rule.sentence)
            continue
        if (rule.kind, key) not in done:
            done.add((rule.kind, key))
            said.append(sentence)
    return tuple(said)
