"""What a rig found different does to a judge's card, row by row."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from entries.models import Entry
from entries.rules.rig import FACTS, WORDS
from judging.models import CardMark, Criterion, RigReport, Seat
from judging.models.card import EMPTY
from judging.rules.cards.condition import applies
from judging.rules.cards.scorecard import MarkState
from judging.rules.round.card_hash import plain_number
from showrun.language import gettext as _


@dataclass(frozen=True)
class Fact:
    """One fact of the rig, as entered beside as found."""

    name: str
    entered: str
    found: str

    @property
    def differs(self) -> bool:
        """Whether the judge found another."""
        return self.entered != self.found


@dataclass(frozen=True)
class RigEffect:
    """A report with what it changes on the card of the judge who made it."""

    report: RigReport
    facts: tuple[Fact, ...]
    # Rows of the judge's sections, by name: off the card, new on it, and marks kept aside.
    gone: tuple[str, ...]
    come: tuple[str, ...]
    aside: tuple[str, ...]


def facts_beside(report: RigReport) -> tuple[Fact, ...]:
    """Return all five facts, as entered beside as found."""
    return tuple(
        Fact(_(WORDS[name]), _(WORDS[report.entered[name]]), _(WORDS[report.facts[name]]))
        for name in FACTS
    )


def found_in_words(report: RigReport) -> str:
    """Say in one line what was found to be other than entered."""
    changed = [fact for fact in facts_beside(report) if fact.differs]
    return "; ".join(
        _("{found} instead of {entered}").format(found=fact.found, entered=fact.entered)
        for fact in changed
    )


def reports_at(entry: Entry) -> list[RigReport]:
    """Return what judges found at one wagon, the newest first."""
    found = RigReport.objects.filter(entry=entry).select_related("judge__person", "settled_by")
    return [report for report in found if report.facts != report.entered]


def effects_of(reports: Sequence[RigReport]) -> list[RigEffect]:
    """Say of each report which rows it concerns; three reads for any number of them."""
    entry_ids = {report.entry_id for report in reports}
    seats: dict[tuple[int, int], set[int]] = defaultdict(set)
    taken = Seat.objects.filter(entry__in=entry_ids).order_by()
    for judge_id, entry_id, section_id in taken.values_list("judge_id", "entry_id", "section_id"):
        seats[judge_id, entry_id].add(section_id)
    sections = {section_id for ids in seats.values() for section_id in ids}
    rows = list(Criterion.objects.filter(section__in=sections))
    aside: dict[tuple[int, int], list[str]] = defaultdict(list)
    kept = CardMark.objects.filter(card__entry__in=entry_ids, aside=True).exclude(state=EMPTY)
    for mark in kept.select_related("card", "criterion").order_by("criterion__position", "pk"):
        given = MarkState(mark.state).words if mark.value is None else plain_number(mark.value)
        aside[mark.card.judge_id, mark.card.entry_id].append(f"{mark.criterion.name}: {given}")

    def effect(report: RigReport) -> RigEffect:
        here = (report.judge_id, report.entry_id)
        mine = [row for row in rows if row.section_id in seats[here]]
        before = [row for row in mine if applies(row.applies, report.entered)]
        after = [row for row in mine if applies(row.applies, report.facts)]
        return RigEffect(
            report=report,
            facts=facts_beside(report),
            gone=tuple(row.name for row in before if row not in after),
            come=tuple(row.name for row in after if row not in before),
            aside=tuple(aside[here]),
        )

    return [effect(report) for report in reports]
