"""How far a show is, from the entries to the release, and what calls for the office now."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TypedDict

from django.db.models import Count, Max

from entries.models import Entry
from entries.rules.places import HOLDS_A_PLACE, Status
from judging.models import (
    Card,
    ClassCard,
    Device,
    Judge,
    Question,
    Result,
    RoundEvent,
    SafetyConcern,
    Scorecard,
    Seat,
    Section,
)
from judging.queries.panel import judges_needed, sections_to_judge
from judging.queries.progress import held_events
from judging.queries.window import window_of
from judging.rules.round.events import Degree
from showrun.shows.models import AuditEntry, Show

GRAVEST_FIRST = {Degree.STOP.value: 0, Degree.MEND.value: 1, Degree.NOTE.value: 2}


@dataclass(frozen=True)
class Standing:
    """Counts of every stage up to the release; the names are those of the stages' rule."""

    entries_confirmed: int
    entries_to_confirm: int
    has_scorecard: bool
    classes_undeclared: tuple[str, ...]
    judges: int
    sections_short: tuple[tuple[str, int, int], ...]
    seats: int
    seats_missing: int
    window_sized: bool
    window_published: bool
    minutes_needed: int
    minutes_available: int
    judges_seated: int
    judges_paired: int
    cards_begun: int
    cards_in: int
    cards_expected: int
    checks_current: bool
    questions_open: int
    classes_judged: int
    results_computed: int
    results_signed: int
    results_released: int


@dataclass(frozen=True)
class Alarms:
    """What must not wait until its page is opened."""

    concerns: list[SafetyConcern]
    held: list[RoundEvent]
    questions_open: int
    to_confirm: int
    waiting: int
    places_free: int


class _Seats(TypedDict):
    seats: int
    seats_missing: int
    judges_seated: int
    judges_paired: int
    cards_expected: int


class _Cards(TypedDict):
    cards_begun: int
    cards_in: int
    checks_current: bool


class _Results(TypedDict):
    classes_judged: int
    results_computed: int
    results_signed: int
    results_released: int


def alarms_of(show: Show) -> Alarms:
    """Return what calls for the office: unseen concerns, held events, entries in line."""
    concerns = SafetyConcern.objects.filter(judge__show=show, seen_at__isnull=True)
    found = concerns.select_related("judge__person", "entry__spot", "criterion")
    status = _entries_by_status(show)
    return Alarms(
        concerns=sorted(found, key=lambda c: (GRAVEST_FIRST[c.degree], c.raised_at)),
        held=held_events(show),
        questions_open=_open_questions(show),
        to_confirm=status[Status.ENTERED],
        waiting=status[Status.WAITING],
        places_free=max(0, show.entry_cap - sum(status[held] for held in HOLDS_A_PLACE)),
    )


def standing_of(show: Show, *, hands_needed: int) -> Standing:
    """Return how far the show is; the number of reads does not grow with the show."""
    status = _entries_by_status(show)
    needed = judges_needed(show)
    window = window_of(show)
    return Standing(
        entries_confirmed=status[Status.CONFIRMED],
        entries_to_confirm=status[Status.ENTERED],
        has_scorecard=Scorecard.objects.filter(show=show).exists(),
        classes_undeclared=tuple(
            show.classes.exclude(pk__in=ClassCard.objects.values("show_class")).values_list(
                "name", flat=True
            )
        ),
        judges=Judge.objects.filter(show=show).count(),
        sections_short=_sections_short(show, needed),
        window_sized=window is not None,
        window_published=bool(window and window.published_at),
        minutes_needed=window.needed_minutes if window else 0,
        minutes_available=window.available_minutes if window else 0,
        questions_open=_open_questions(show),
        **_seats(show, needed),
        **_cards(show),
        **_results(show, hands_needed),
    )


def _entries_by_status(show: Show) -> Counter[str]:
    rows = Entry.objects.filter(show=show).order_by().values_list("status")
    return Counter(dict(rows.annotate(n=Count("pk"))))


def _open_questions(show: Show) -> int:
    return Question.objects.filter(judge__show=show, state=Question.State.OPEN).count()


def _sections_short(show: Show, needed: dict[str, int]) -> tuple[tuple[str, int, int], ...]:
    engaged = Judge.sections.through.objects.filter(judge__show=show)
    have = Counter(engaged.values_list("section__code", flat=True))
    names = dict(Section.objects.filter(scorecard__show=show).values_list("code", "name"))
    return tuple(
        (names.get(code, code), have[code], need)
        for code, need in needed.items()
        if have[code] < need
    )


def _seats(show: Show, needed: dict[str, int]) -> _Seats:
    """Count seats of confirmed entries, those lacking, and the judges who sit."""
    seats = Seat.objects.filter(judge__show=show, entry__status=Status.CONFIRMED.value)
    rows = list(seats.order_by().values_list("entry_id", "section__code", "judge_id"))
    have = Counter((entry, section) for entry, section, _ in rows)
    seated = {judge for _, _, judge in rows}
    phones = Device.objects.filter(judge__show=show, revoked_at__isnull=True)
    paired = set(phones.order_by().values_list("judge_id", flat=True))
    lacking = sum(
        max(0, needed.get(section, 0) - have[entry.pk, section])
        for entry, sections in sections_to_judge(show).items()
        for section in sections
    )
    return {
        "seats": len(rows),
        "seats_missing": lacking,
        "judges_seated": len(seated),
        "judges_paired": len(seated & paired),
        "cards_expected": len({(entry, judge) for entry, _, judge in rows}),
    }


def _cards(show: Show) -> _Cards:
    """Count cards in work and cards in, and say whether the checks saw the last of them."""
    cards = Card.objects.filter(judge__show=show)
    came_in = cards.filter(handed_in_at__isnull=False)
    last_in = came_in.aggregate(at=Max("handed_in_at"))["at"]
    checked = AuditEntry.objects.filter(show=show, verb="checked").aggregate(at=Max("at"))["at"]
    return {
        "cards_begun": cards.count(),
        "cards_in": came_in.filter(entry__status=Status.CONFIRMED.value).count(),
        "checks_current": bool(last_in and checked and checked >= last_in),
    }


def _results(show: Show, hands_needed: int) -> _Results:
    judged = set(
        ClassCard.objects.filter(
            show_class__show=show,
            show_class__in=Entry.objects.filter(show=show)
            .confirmed()
            .values("classes__show_class"),
        ).values_list("show_class_id", flat=True)
    )
    newest: dict[int, Result] = {}
    versions = Result.objects.filter(show_class__in=judged).annotate(hands=Count("signatures"))
    for result in versions.order_by("version"):
        newest[result.show_class_id] = result
    signed = [r for r in newest.values() if r.released_at or r.hands >= hands_needed]  # type: ignore[attr-defined]
    return {
        "classes_judged": len(judged),
        "results_computed": len(newest),
        "results_signed": len(signed),
        "results_released": sum(r.released_at is not None for r in newest.values()),
    }
