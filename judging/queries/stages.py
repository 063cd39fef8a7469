"""How far a show is, from the entries to the release, and what calls for the office now."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TypedDict

from django.db.models import Count, Max, Q

from entries.models import Entry, EntryClass
from entries.rules.places import Status
from judging.models import (
    Card,
    ClassCard,
    Device,
    Judge,
    Question,
    Result,
    RoundEvent,
    SafetyConcern,
    Seat,
    Section,
)
from judging.queries.cards import class_cards
from judging.queries.panel import engaged_by_section, judges_needed
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
    practice_set_up: bool
    practice_open: bool
    practice_judges: int
    practice_marked: int
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


class _Practice(TypedDict):
    practice_set_up: bool
    practice_open: bool
    practice_judges: int
    practice_marked: int


class _Cards(TypedDict):
    cards_begun: int
    cards_in: int
    checks_current: bool


class _Results(TypedDict):
    classes_judged: int
    results_computed: int
    results_signed: int
    results_released: int


def standing_of(show: Show, *, hands_needed: int) -> Standing:
    """Return how far the show is; the number of reads does not grow with the show."""
    status = _entries_by_status(show)
    declared = {card.show_class_id: card for card in class_cards(show)}
    entered = _confirmed_in_classes(show)
    in_use = Section.objects.filter(scorecard__show=show, scorecard__in_use=True)
    names = dict(in_use.values_list("code", "name"))
    needed = judges_needed(show, declared.values())
    window = window_of(show)
    classes = show.classes.values_list("pk", "name")
    judged = {class_id for _, class_id in entered if class_id in declared}
    return Standing(
        entries_confirmed=status[Status.CONFIRMED],
        entries_to_confirm=status[Status.ENTERED],
        has_scorecard=bool(names),
        classes_undeclared=tuple(name for pk, name in classes if pk not in declared),
        judges=Judge.objects.filter(show=show, left_at__isnull=True).count(),
        sections_short=_sections_short(show, names, needed),
        window_sized=window is not None,
        window_published=bool(window and window.published_at),
        minutes_needed=window.needed_minutes if window else 0,
        minutes_available=window.available_minutes if window else 0,
        questions_open=Question.objects.filter(
            judge__show=show, state__in=Question.WAITING
        ).count(),
        **_seats(show, _wanted(entered, declared), needed),
        **_practice(show, set_up=status[Status.PRACTICE] > 0),
        **_cards(show),
        **_results(judged, hands_needed),
    )


def unseen_concerns(show: Show) -> list[SafetyConcern]:
    """Return the safety concerns nobody in the office has seen, gravest first."""
    concerns = SafetyConcern.objects.filter(judge__show=show, seen_at__isnull=True)
    found = concerns.select_related("judge__person", "entry__spot", "criterion")
    return sorted(found, key=lambda c: (GRAVEST_FIRST[c.degree], c.raised_at))


def alarms_of(show: Show, standing: Standing) -> Alarms:
    """Return what calls for the office: unseen concerns, held events, entries in line."""
    taken = Entry.objects.filter(show=show).holding_a_place().count()
    return Alarms(
        concerns=unseen_concerns(show),
        held=held_events(show),
        questions_open=standing.questions_open,
        to_confirm=standing.entries_to_confirm,
        waiting=Entry.objects.filter(show=show).waiting().count(),
        places_free=max(0, show.entry_cap - taken),
    )


def _entries_by_status(show: Show) -> Counter[str]:
    rows = Entry.objects.filter(show=show).order_by().values_list("status")
    return Counter(dict(rows.annotate(n=Count("pk"))))


def _confirmed_in_classes(show: Show) -> list[tuple[int, int]]:
    """Return (entry id, class id) of every confirmed entry."""
    pairs = EntryClass.objects.filter(entry__show=show, entry__status=Status.CONFIRMED.value)
    return list(pairs.values_list("entry_id", "show_class_id"))


def _wanted(
    entered: Iterable[tuple[int, int]], declared: Mapping[int, ClassCard]
) -> set[tuple[int, str]]:
    """Return (entry id, section) of all that is to be judged."""
    codes = {pk: [section.code for section in card.sections.all()] for pk, card in declared.items()}
    return {(entry, code) for entry, class_id in entered for code in codes.get(class_id, ())}


def _sections_short(
    show: Show, names: Mapping[str, str], needed: Mapping[str, int]
) -> tuple[tuple[str, int, int], ...]:
    have = engaged_by_section(show)
    return tuple(
        (names.get(code, code), have[code], need)
        for code, need in needed.items()
        if have[code] < need
    )


def _seats(show: Show, wanted: Iterable[tuple[int, str]], needed: Mapping[str, int]) -> _Seats:
    """Count seats of confirmed entries, those lacking, and the judges who sit."""
    seats = Seat.objects.filter(judge__show=show, entry__status=Status.CONFIRMED.value)
    rows = list(seats.order_by().values_list("entry_id", "section__code", "judge_id"))
    have = Counter((entry, section) for entry, section, _ in rows)
    seated = {judge for _, _, judge in rows}
    phones = Device.objects.phones().filter(judge__show=show, revoked_at__isnull=True)
    paired = set(phones.order_by().values_list("judge_id", flat=True))
    return {
        "seats": len(rows),
        "seats_missing": sum(
            max(0, needed.get(section, 0) - have[entry, section]) for entry, section in wanted
        ),
        "judges_seated": len(seated),
        "judges_paired": len(seated & paired),
        "cards_expected": len({(entry, judge) for entry, _, judge in rows}),
    }


def _practice(show: Show, *, set_up: bool) -> _Practice:
    """Count the judges who sit at the practice wagon or have marked it, and those who are done."""
    at_it = {"judge__show": show, "entry__status": Status.PRACTICE.value}
    seated = set(Seat.objects.filter(**at_it).order_by().values_list("judge_id", flat=True))
    cards = dict(Card.objects.filter(**at_it).values_list("judge_id", "handed_in_at"))
    return {
        "practice_set_up": set_up,
        "practice_open": bool(seated),
        "practice_judges": len(seated | set(cards)),
        "practice_marked": sum(at is not None for at in cards.values()),
    }


def _cards(show: Show) -> _Cards:
    """Count cards in work and cards in, and say whether the checks saw the last of them."""
    cards = Card.objects.filter(judge__show=show).exclude(entry__status=Status.PRACTICE.value)
    found = cards.aggregate(
        begun=Count("pk"),
        handed_in=Count(
            "pk", filter=Q(handed_in_at__isnull=False, entry__status=Status.CONFIRMED.value)
        ),
        last_in=Max("handed_in_at"),
    )
    checked = AuditEntry.objects.filter(show=show, verb="checked").aggregate(at=Max("at"))["at"]
    return {
        "cards_begun": found["begun"],
        "cards_in": found["handed_in"],
        "checks_current": bool(found["last_in"] and checked and checked >= found["last_in"]),
    }


def _results(judged: set[int], hands_needed: int) -> _Results:
    versions = Result.objects.filter(show_class__in=judged).order_by("version")
    newest = {
        class_id: (released_at is not None, hands)
        for class_id, released_at, hands in versions.annotate(
            hands=Count("signatures")
        ).values_list("show_class_id", "released_at", "hands")
    }
    return {
        "classes_judged": len(judged),
        "results_computed": len(newest),
        "results_signed": sum(
            released or hands >= hands_needed for released, hands in newest.values()
        ),
        "results_released": sum(released for released, _ in newest.values()),
    }
