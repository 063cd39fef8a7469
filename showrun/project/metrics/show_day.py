"""The figures of the shows that run today, read from the database when they are asked for.

Every process would say the same, so none is kept in one. A dozen queries, however many shows.
Labels are the address of a show and words of ours: nobody's name, no code, no address of mail.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Count, Exists, Min, OuterRef, Q, QuerySet, Sum
from prometheus_client.metrics_core import GaugeMetricFamily, Metric
from prometheus_client.registry import Collector

from entries.actions.mail_offers import NOT_MAILED
from judging.models import Card, Device, PlanJob, Question, RoundEvent, SafetyConcern, Visit
from reports.models import Paper
from reports.rules.queues import queue_of
from showrun.shows.models import AuditEntry, Show

# A show is watched from the day before it begins until two days after its end.
AHEAD, AFTER = timedelta(days=1), timedelta(days=2)
# A phone sends what it has within seconds when it can; so long without a word is worth a look.
SILENT = timedelta(minutes=15)
PLANS = "plans"


class ShowDay(Collector):
    """Reads as of one moment."""

    def __init__(self, at: datetime) -> None:
        self.at = at

    def collect(self) -> Iterator[Metric]:
        """Yield every figure."""
        today = self.at.date()
        running = dict(
            Show.objects.filter(starts_on__lte=today + AHEAD, ends_on__gte=today - AFTER)
            .order_by()
            .values_list("pk", "slug")
        )
        yield gauge(
            "showrun_shows_running", "Shows on, or within a day or two of it.", len(running)
        )
        yield from self._phones(running)
        yield from self._judging(running)
        yield from self._papers()
        yield from self._plans()
        lost = AuditEntry.objects.filter(show__in=running, verb=NOT_MAILED)
        yield by_show(
            "showrun_offers_not_mailed",
            "Offers of a place whose mail failed, as the record has it.",
            running,
            counted(lost, "show_id"),
        )

    def _phones(self, running: Mapping[int, str]) -> Iterator[Metric]:
        found = (
            Device.objects.phones()
            .filter(judge__show__in=running, revoked_at__isnull=True)
            .order_by()
            .values("judge__show_id")
            .annotate(
                paired=Count("pk"),
                touches=Sum("unsent"),
                holding=Count("pk", filter=Q(unsent__gt=0)),
                silent=Count(
                    "pk", filter=Q(last_seen_at__isnull=True) | Q(last_seen_at__lt=self.at - SILENT)
                ),
                heard_at=Min("last_seen_at"),
            )
        )
        rows: dict[int, Mapping[str, Any]] = {row["judge__show_id"]: row for row in found}
        for name, words, column in (
            ("showrun_phones_paired", "Judges' phones that may send.", "paired"),
            ("showrun_phones_silent", "Of them not heard of for 15 minutes, or never.", "silent"),
            ("showrun_phones_unsynced", "Of them that said they hold touches unsent.", "holding"),
            ("showrun_touches_unsent", "Touches unsent, as the phones last said.", "touches"),
        ):
            yield by_show(name, words, running, {key: row[column] for key, row in rows.items()})
        told = GaugeMetricFamily(
            "showrun_phone_longest_silence_seconds",
            "Since the phone that was heard of longest ago was heard of.",
            labels=["show"],
        )
        for key, row in rows.items():
            if row["heard_at"] is not None:
                told.add_metric([running[key]], (self.at - row["heard_at"]).total_seconds())
        yield told

    def _judging(self, running: Mapping[int, str]) -> Iterator[Metric]:
        done = Card.objects.filter(
            judge=OuterRef("judge"), entry=OuterRef("entry"), handed_in_at__isnull=False
        )
        late = Visit.objects.filter(
            ~Exists(done),
            window__show__in=running,
            window__published_at__isnull=False,
            ends_at__lt=self.at,
        )
        questions = Question.objects.filter(judge__show__in=running, state__in=Question.WAITING)
        concerns = SafetyConcern.objects.filter(judge__show__in=running, seen_at__isnull=True)
        held = RoundEvent.objects.filter(show__in=running, applied=False, settled_at__isnull=True)
        for name, words, rows, column in (
            (
                "showrun_visits_late",
                "Announced visits that are over and whose card is not handed in.",
                late,
                "window__show_id",
            ),
            (
                "showrun_questions_open",
                "Questions that wait for a judge or for a second officer.",
                questions,
                "judge__show_id",
            ),
            (
                "showrun_concerns_unseen",
                "Safety concerns nobody in the office has seen.",
                concerns,
                "judge__show_id",
            ),
            ("showrun_touches_held", "Touches kept for the office to decide.", held, "show_id"),
        ):
            yield by_show(name, words, running, counted(rows, column))

    def _papers(self) -> Iterator[Metric]:
        found = Paper.objects.order_by().values_list("state", "kind")
        states, oldest = (
            GaugeMetricFamily("showrun_papers", "Papers by where they stand.", labels=["state"]),
            dict[str, datetime](),
        )
        count: dict[str, int] = defaultdict(int)
        for state, kind, n, wanted_at in found.annotate(Count("pk"), Min("wanted_at")):
            count[state] += n
            if state in Paper.UNFINISHED:
                queue = queue_of(kind)
                oldest[queue] = min(wanted_at, oldest.get(queue, wanted_at))
        for state in Paper.State.values:
            states.add_metric([state], count[state])
        yield states
        yield self._ages(
            "showrun_oldest_wanted_paper_seconds",
            "How long the oldest paper not yet drawn has been wanted.",
            oldest,
        )

    def _plans(self) -> Iterator[Metric]:
        waiting = PlanJob.objects.filter(state__in=PlanJob.UNFINISHED)
        found = waiting.order_by().aggregate(n=Count("pk"), first=Min("asked_at"))
        yield gauge("showrun_plans_unfinished", "Plans asked for and not there yet.", found["n"])
        yield self._ages(
            "showrun_oldest_wanted_plan_seconds",
            "How long the oldest plan not yet found has been asked for.",
            {PLANS: found["first"]} if found["first"] else {},
        )

    def _ages(self, name: str, words: str, oldest: Mapping[str, datetime]) -> Metric:
        told = GaugeMetricFamily(name, words, labels=["queue"])
        for queue, since in sorted(oldest.items()):
            told.add_metric([queue], (self.at - since).total_seconds())
        return told


def gauge(name: str, words: str, value: float) -> Metric:
    """Return one figure without labels."""
    return GaugeMetricFamily(name, words, value=value)


def counted(rows: QuerySet[Any], column: str) -> Mapping[int, int]:
    """Count rows by show."""
    return dict(rows.order_by().values_list(column).annotate(n=Count("pk")))


def by_show(name: str, words: str, running: Mapping[int, str], found: Mapping[int, int]) -> Metric:
    """Return a figure of every running show; nought where nothing was found."""
    told = GaugeMetricFamily(name, words, labels=["show"])
    for key, slug in sorted(running.items()):
        told.add_metric([slug], found.get(key, 0))
    return told
