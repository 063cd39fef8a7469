"""The one place where a show becomes a task for the panel's rules."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal, cast

from entries.models import Entry
from judging.models import Judge, PanelRules, Pause, Pin, Section
from judging.queries.cards import demand_card
from judging.queries.panel import judges_needed, judges_of, sections_to_judge
from judging.rules.panels import pins as rules
from judging.rules.panels.collide import Collision, explain
from judging.rules.panels.pins import JudgeOffer, Task
from showrun.shows.models import Show


@dataclass(frozen=True)
class PanelTask:
    """What is asked of the show's panel; its judges and entries are the show's own."""

    task: Task
    judges: list[Judge]
    sections: dict[str, Section]
    balance_by: Literal["seats", "minutes"]
    names: dict[Hashable, str]


def panel_rules(show: Show) -> PanelRules:
    """Return the office's rules for the panel, or the defaults, which are not saved."""
    return PanelRules.objects.filter(show=show).first() or PanelRules(show=show)


def pins_of(show: Show) -> list[Pin]:
    """Return the seats set by hand, by judge and entry."""
    return list(Pin.objects.filter(show=show).select_related("judge__person", "entry", "section"))


def minutes_there(show: Show) -> dict[int, int]:
    """Return, for each judge who is away for a part of the window, the minutes left [min]."""
    opens = show.judging_starts_at
    closes = opens + timedelta(minutes=show.judging_minutes)
    away: dict[int, list[tuple[datetime, datetime]]] = {}
    pauses = Pause.objects.filter(show=show, judge__isnull=False)
    for judge, starts, ends in pauses.values_list("judge_id", "starts_at", "ends_at"):
        if starts < closes and ends > opens:
            spans = away.setdefault(judge, [])
            spans.append((max(starts, opens), min(ends, closes)))
    return {judge: _left(show.judging_minutes, spans) for judge, spans in away.items()}


def _left(minutes: int, spans: Iterable[tuple[datetime, datetime]]) -> int:
    """Minutes outside the spans, which may overlap."""
    away, until = timedelta(0), None
    for starts, ends in sorted(spans):
        begins = starts if until is None else max(starts, until)
        if ends > begins:
            away += ends - begins
            until = ends
    return max(0, minutes - -(-away // timedelta(minutes=1)))


def names_of(
    judges: Iterable[Judge], entries: Iterable[Entry], sections: Iterable[Section] = ()
) -> dict[Hashable, str]:
    """Return the words in which a plan or its refusal speaks of them."""
    return {
        **{judge: judge.person.name for judge in judges},
        **{entry: f"wagon {entry.number}" for entry in entries},
        **{section.code: section.name for section in sections},
    }


def panel_task(show: Show, *, more: Sequence[JudgeOffer] = ()) -> PanelTask:
    """Gather entries, judges, conflicts, limits and pins; `more` are offers of judges who left."""
    judges, wanted = judges_of(show), sections_to_judge(show)
    sections = {section.code: section for section in demand_card(show).sections.all()}
    asked, there = panel_rules(show), minutes_there(show)
    offers = [_offer(judge, asked, there) for judge in judges if judge.left_at is None]
    known = {offer.judge for offer in offers}
    return PanelTask(
        task=Task(
            entries=list(wanted),
            entry_sections=wanted,
            judges=[*offers, *more],
            judges_per_section=judges_needed(show),
            pins=[
                rules.Pin(pin.judge, pin.entry, pin.section.code if pin.section else None, pin.must)
                for pin in pins_of(show)
                if pin.judge in known
            ],
            novices_beside_seniors=asked.novices_beside_seniors,
            # A section without minutes still takes one, so that limits of minutes mean something.
            minutes={code: max(1, section.minutes) for code, section in sections.items()},
        ),
        judges=judges,
        sections=sections,
        balance_by=cast(Literal["seats", "minutes"], asked.balance_by),
        names=names_of(judges, wanted, sections.values()),
    )


def _offer(judge: Judge, asked: PanelRules, there: dict[int, int]) -> JudgeOffer:
    """Return what a judge still here may be asked to do, conflicts left out."""
    return JudgeOffer(
        judge=judge,
        sections=frozenset(section.code for section in judge.sections.all()),
        barred=frozenset(conflict.entry for conflict in judge.conflicts.all()),
        max_seats=asked.max_seats if judge.max_seats is None else judge.max_seats,
        novice=judge.seniority == "novice",
        max_minutes=there.get(judge.pk),
    )


def explain_panel(show: Show) -> Collision | None:
    """Return which rules collide and what would release them; nothing if a panel can be drawn."""
    asked = panel_task(show)
    return explain(asked.task, names=asked.names)
