"""All marks of a show's cards that are in, as the checks of the panel want them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from functools import cached_property
from statistics import median
from typing import NamedTuple

from entries.models import Entry
from entries.rules.places import Status
from judging.models import CardMark, Criterion, Judge
from judging.rules.cards.scorecard import Form, MarkState
from judging.rules.results.panel_checks import PanelChecks, check_panel
from judging.rules.results.question_words import asked_about
from judging.rules.round.card_hash import plain_number
from judging.rules.round.events import Kind
from showrun.shows.models import Show

COMMON_SCALE = 10
SECONDS_A_MINUTE = 60.0


class MarkIn(NamedTuple):
    """A mark of a card handed in; `at` is when it was given, None where nobody knows."""

    entry_id: int
    judge_id: int
    criterion_id: int
    value: Decimal
    at: datetime | None


@dataclass(frozen=True)
class PanelMarks:
    """The marks of a panel in the order they were first given, with what they point at."""

    marks: list[MarkIn]
    criteria: dict[int, Criterion]
    entries: dict[int, Entry]
    judges: dict[int, Judge]

    @cached_property
    def scores(self) -> list[float]:
        """The marks on the common scale of 0 to 10."""
        most = {pk: row.max_mark for pk, row in self.criteria.items()}
        return [float(m.value / most[m.criterion_id]) * COMMON_SCALE for m in self.marks]

    @cached_property
    def card_times(self) -> dict[tuple[int, int], float]:
        """When each card was marked, in minutes, by entry and judge; without those unknown.

        The median of its marks: one corrected hours later does not move the whole card.
        """
        given: dict[tuple[int, int], list[float]] = defaultdict(list)
        for mark in self.marks:
            if mark.at is not None:
                minute = mark.at.timestamp() / SECONDS_A_MINUTE
                given[mark.entry_id, mark.judge_id].append(minute)
        return {card: median(minutes) for card, minutes in given.items()}

    @cached_property
    def untimed(self) -> int:
        """How many cards have no mark whose time is known."""
        cards = {(mark.entry_id, mark.judge_id) for mark in self.marks}
        return len(cards) - len(self.card_times)

    @cached_property
    def minutes(self) -> list[float] | None:
        """When each mark was given; None where a card has no time, since then none can be told."""
        if self.untimed or not self.marks:
            return None
        first = min(self.card_times.values())
        return [self.card_times[mark.entry_id, mark.judge_id] - first for mark in self.marks]

    def checks(self, alpha: float) -> PanelChecks | None:
        """Run every check; None while no card is in."""
        if not self.marks:
            return None
        return check_panel(
            entry=[mark.entry_id for mark in self.marks],
            judge=[mark.judge_id for mark in self.marks],
            criterion=[mark.criterion_id for mark in self.marks],
            score=self.scores,
            minute=self.minutes,
            alpha=alpha,
        )

    def fingerprint(self, judge_id: int, entries: Collection[int] | None = None) -> str:
        """Return the hash of a judge's marks of these entries, of all entries if none is named."""
        return asked_about(
            (mark.entry_id, self.criteria[mark.criterion_id].code, plain_number(mark.value))
            for mark in self.marks
            if mark.judge_id == judge_id and (entries is None or mark.entry_id in entries)
        )

    def seen_by(self, judge_id: int) -> set[int]:
        """Return the entries of which a card of this judge is in."""
        return {mark.entry_id for mark in self.marks if mark.judge_id == judge_id}


def panel_marks(show: Show) -> PanelMarks:
    """Read the marks of all cards handed in, in as many reads for a large show as for a small one.

    Left out are places and passes, which are on no common scale, marks set aside, and the
    practice wagon.
    """
    criteria = Criterion.objects.filter(section__scorecard__show=show).select_related("section")
    marks = CardMark.objects.filter(
        card__judge__show=show,
        card__handed_in_at__isnull=False,
        criterion__section__form=Form.POINTS.value,
        state=MarkState.MARKED.value,
        aside=False,
    ).order_by("id")
    marks = marks.exclude(card__entry__status=Status.PRACTICE.value)
    columns = marks.values_list(
        *("card__entry_id", "card__judge_id", "criterion_id", "value"),
        *("event__happened_at", "event__kind", "event__body__source"),
    )
    return PanelMarks(
        marks=[
            # The database holds a value with every marked row.
            MarkIn(entry_id, judge_id, row_id, value, at if _at_the_wagon(kind, source) else None)
            for entry_id, judge_id, row_id, value, at, kind, source in columns
            if value is not None
        ],
        criteria=criteria.in_bulk(),
        entries=Entry.objects.filter(show=show).in_bulk(),
        judges=Judge.objects.filter(show=show).select_related("person").in_bulk(),
    )


def _at_the_wagon(kind: str | None, source: str | None) -> bool:
    """Say whether a touch tells when the judge was there: keyed from paper, it does not."""
    return kind == Kind.MARK.value and source != "paper"
