"""When judges came to the wagons and went, beside the announced times."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import BigIntegerField, DateTimeField, Max, Min
from django.db.models.fields.json import KT
from django.db.models.functions import Cast, Coalesce

from judging.models import RoundEvent, Visit
from judging.models.device import PAPER_TOKEN
from judging.rules.round.events import Kind
from judging.rules.round.stays import Stay, Touches, stays
from showrun.shows.models import Show

Pair = tuple[int, int]
TOUCHES = [kind.value for kind in (Kind.MARK, Kind.CLEAR, Kind.REMARK, Kind.CONCERN, Kind.RIG)]
MOMENTS = [Kind.OPEN.value, Kind.HAND_IN.value]


@dataclass(frozen=True)
class VisitTime:
    """One announced visit: its times as announced, and as they came about so far."""

    judge_id: int
    entry_id: int
    starts_at: datetime
    ends_at: datetime
    began_at: datetime | None = None
    ended_at: datetime | None = None

    @property
    def pair(self) -> Pair:
        """Judge and entry."""
        return self.judge_id, self.entry_id

    @property
    def planned_minutes(self) -> float:
        """Its announced length [min]."""
        return (self.ends_at - self.starts_at).total_seconds() / 60

    @property
    def took_minutes(self) -> float | None:
        """How long it took [min]; None while it is not over."""
        if self.began_at is None or self.ended_at is None:
            return None
        return (self.ended_at - self.began_at).total_seconds() / 60


def visit_times(show: Show) -> list[VisitTime]:
    """Return every visit of the window in order of time; three queries, however many visits."""
    rows = list(
        Visit.objects.filter(window__show=show)
        .order_by("starts_at", "judge__code")
        .values_list("judge_id", "entry_id", "starts_at", "ends_at", "window__opens_at")
    )
    if not rows:
        return []
    found = _stays(show, rows[0][4])
    times = []
    for judge_id, entry_id, starts_at, ends_at, _ in rows:
        stay = found.get((judge_id, entry_id))
        began, ended = (stay.began_at, stay.ended_at) if stay else (None, None)
        times.append(VisitTime(judge_id, entry_id, starts_at, ends_at, began, ended))
    return times


def _stays(show: Show, opens_at: datetime) -> dict[Pair, Stay]:
    """Return when each judge was at which wagon, also where no visit is announced."""
    return {
        (judge_id, entry_id): stay
        for judge_id, by_entry in _touches(show).items()
        for entry_id, stay in stays(by_entry, opens_at=opens_at).items()
    }


def _touches(show: Show) -> dict[int, dict[int, Touches]]:
    events = (
        RoundEvent.objects.filter(show=show, applied=True)
        # Paper is keyed later than the judge was there.
        .exclude(device__token_hash__startswith=PAPER_TOKEN)
        .order_by()
        .annotate(
            about=Cast(KT("body__entry"), BigIntegerField()),
            moment=Coalesce("happened_at", "received_at", output_field=DateTimeField()),
        )
    )
    facts: dict[Pair, dict[str, Any]] = defaultdict(dict)
    spans = events.filter(kind__in=TOUCHES).values("device__judge_id", "about")
    for row in spans.annotate(first=Min("moment"), last=Max("moment")):
        here = facts[row["device__judge_id"], row["about"]]
        here |= {"first": row["first"], "last": row["last"]}
    moments = events.filter(kind__in=MOMENTS)
    for judge_id, entry_id, kind, moment in moments.values_list(
        "device__judge_id", "about", "kind", "moment"
    ):
        here = facts[judge_id, entry_id]
        if kind == Kind.OPEN.value:
            here["opened"] = (*here.get("opened", ()), moment)
        else:
            here["handed_in"] = max(here.get("handed_in", moment), moment)
    by_judge: dict[int, dict[int, Touches]] = defaultdict(dict)
    for (judge_id, entry_id), fields in facts.items():
        by_judge[judge_id][entry_id] = Touches(**fields)
    return by_judge
