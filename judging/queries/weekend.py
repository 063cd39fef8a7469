"""What is read to lay the classes over the days of a show."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace

from entries.models import Entry, EntryClass
from entries.rules.places import Status
from judging.models import Judge
from judging.queries.cards import class_cards
from judging.queries.panel import seats_of
from judging.queries.plan import ShowProblem, day_rules, show_problem
from judging.rules.windows.problem import RotationProblem, VisitNeed
from showrun.shows.models import Show


@dataclass(frozen=True)
class ClassProblem:
    """The visits of one class by itself, without the pauses of the day."""

    name: str
    problem: RotationProblem
    entries: int


def class_problems(show: Show) -> list[ClassProblem]:
    """Return what each class asks of its judges, were it judged alone."""
    plan = show_problem(show)
    cards = class_cards(show)
    in_class: dict[int, set[int]] = defaultdict(set)
    pairs = EntryClass.objects.filter(entry__show=show, entry__status=Status.CONFIRMED.value)
    for class_id, entry_id in pairs.values_list("show_class_id", "entry_id"):
        in_class[class_id].add(entry_id)
    seats = list(
        seats_of(show).values_list("judge_id", "entry_id", "section_id", "section__minutes")
    )
    rules = day_rules(show)
    beside = rules.talk_minutes + rules.settling_minutes
    found = []
    for card in cards:
        sections = {section.pk for section in card.sections.all()}
        entries = in_class[card.show_class_id]
        minutes: dict[tuple[int, int], int] = defaultdict(lambda: beside)
        for judge, entry, section, length in seats:
            if entry in entries and section in sections:
                minutes[judge, entry] += length
        if minutes:
            problem = _alone(plan, minutes.items())
            visited = {need.entry for need in problem.visits}
            found.append(ClassProblem(card.show_class.name, problem, len(visited)))
    return found


def _alone(plan: ShowProblem, minutes: Iterable[tuple[tuple[int, int], int]]) -> RotationProblem:
    judges: dict[int, Judge] = {judge.pk: judge for judge in plan.judges}
    entries: dict[int, Entry] = {entry.pk: entry for entry in plan.entries}
    visits = tuple(VisitNeed(entries[e], judges[j], m) for (j, e), m in minutes)
    return replace(plan.problem, visits=visits, judge_away={}, crew_away={}, breaks={})
