"""My entry: where it stands, when judges come, what they look at, and what came of it."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from entries.models import Entry
from entries.queries import entry_for, place_in_line
from entries.rules.places import Status
from judging.models import ClassCard, Criterion, Placing, RigReport, Seat, Section
from judging.queries.announcements import TimeTold, told_of_entry
from judging.queries.calendars import link_of_entry
from judging.queries.cards import card_of, class_cards, sections_as_counted
from judging.queries.results import released_placings
from judging.queries.rig_effects import found_in_words, reports_at
from judging.queries.timetables import times_as_of
from judging.queries.window import visits_of_entry, window_of
from judging.rules.cards.policies import in_words
from judging.web.public import METHOD_WORDS, sentences
from reports.models import Paper
from reports.queries.papers import papers_for_entry
from reports.rules.award import place_words
from showrun.shows.models import ShowClass
from showrun.shows.queries import allowed
from showrun.shows.rules.access import Deed


@dataclass(frozen=True)
class Standing:
    """Where the entry stands, for its exhibitor."""

    words: str
    sign: str
    next: str


@dataclass(frozen=True)
class VisitLine:
    """A judge's visit; which judge is not said."""

    number: int
    starts_at: datetime
    ends_at: datetime
    sections: str
    told: TimeTold | None = None


@dataclass(frozen=True)
class SectionRows:
    """What is looked at in a section on this rig."""

    section: Section
    rows: list[Criterion]
    judges: int


@dataclass(frozen=True)
class Declared:
    """What some classes of the entry declare before judging."""

    heading: str
    sentences: tuple[str, ...]


@dataclass(frozen=True)
class ClassOutcome:
    """A class of the entry: what came of it, or that it is not released yet."""

    show_class: ShowClass
    placing: Placing | None
    place: str
    method: str
    sections: list[tuple[str, str, Decimal]]
    papers: list[Paper]


def standing(entry: Entry) -> Standing:
    """Say where the entry stands and what comes next."""
    status = Status(entry.status)
    if status is Status.ENTERED:
        return Standing(
            "Entered", "state-ask", "A place is held for you. The office confirms it next."
        )
    if status is Status.WAITING:
        return Standing(
            f"On the wait list, number {place_in_line(entry)} in line",
            "state-wait",
            "Places that come free are given in the order of the list.",
        )
    if status is Status.SCRATCHED:
        return Standing("Scratched", "state-bad", entry.status_reason)
    spot = f", {entry.spot}" if entry.spot else "; the camp spot is given later"
    return Standing("Confirmed", "state-good", f"Number {entry.number}{spot}.")


@never_cache
@require_safe
def my_entry(request: HttpRequest, entry_id: int) -> HttpResponse:
    """Show an entry to its exhibitor, or to the office."""
    entry = entry_for(request.user, entry_id, Deed.SEE_ENTRY)
    show = entry.show
    taken = [row.show_class for row in entry.classes.select_related("show_class")]
    taken.sort(key=lambda show_class: (show_class.position, show_class.code))
    cards = {card.show_class_id: card for card in class_cards(show)}
    mine = [cards[show_class.pk] for show_class in taken if show_class.pk in cards]
    outcomes = _outcomes(entry, taken, cards)
    found = [(report, found_in_words(report)) for report in reports_at(entry)]
    visits, told = _visits(entry)
    context = {
        "show": show,
        "entry": entry,
        "own": entry.exhibitor_id == request.user.pk,
        "sees_office": allowed(request.user, Deed.SEE_OFFICE, show),
        "standing": standing(entry),
        "confirmed": entry.status == Status.CONFIRMED,
        "scratched": entry.status == Status.SCRATCHED,
        "classes": taken,
        "crew": list(entry.crew.all()),
        "visits": visits,
        "times_told": told,
        "as_of": times_as_of(show, window_of(show)),
        "calendar": link_of_entry(entry),
        "may_link": entry.exhibitor_id == request.user.pk
        or allowed(request.user, Deed.RUN_WINDOW, show),
        "sections": _rows(entry, mine),
        "released": [outcome for outcome in outcomes if outcome.placing],
        "unreleased": [outcome.show_class for outcome in outcomes if not outcome.placing],
        "cautions": sentences(show.cautions),
        "declared": _declared(taken, cards),
        "rig_query": urlencode(entry.rig.facts()),
        "rig_reports": found,
        "corrected": [
            words for report, words in reversed(found) if report.state == RigReport.State.ADOPTED
        ],
    }
    return render(request, "reports/my_entry.html", context)


def _visits(entry: Entry) -> tuple[list[VisitLine], TimeTold | None]:
    """Return the visits in order of time, numbered, without names, and what was told last."""
    told, newest = told_of_entry(entry)
    sections: dict[int, list[str]] = defaultdict(list)
    seats = Seat.objects.filter(entry=entry).select_related("section")
    for seat in seats.order_by("section__position"):
        sections[seat.judge_id].append(seat.section.name)
    every = {name for names in sections.values() for name in names}

    def words(names: list[str]) -> str:
        return "every section" if 1 < len(names) == len(every) else ", ".join(names)

    lines = [
        VisitLine(
            number,
            visit.starts_at,
            visit.ends_at,
            words(sections[visit.judge_id]),
            told.get(visit.judge_id),
        )
        for number, visit in enumerate(visits_of_entry(entry), start=1)
    ]
    return lines, newest if lines else None


def _rows(entry: Entry, cards: list[ClassCard]) -> list[SectionRows]:
    """Return the card's rows for this rig, of the sections its classes count."""
    judges: Counter[str] = Counter()
    for counted in cards:
        for section in counted.sections.all():
            judges[section.code] = max(judges[section.code], counted.judges_per_section)
    card = card_of(entry.show)
    if card is None:
        return []
    facts = entry.rig.facts()
    return [
        SectionRows(
            section=section,
            rows=[row for row in section.criteria.all() if row.as_value().is_for(facts)],
            judges=judges[section.code],
        )
        for section in card.sections.all()
        if section.code in judges
    ]


def _declared(taken: list[ShowClass], cards: dict[int, ClassCard]) -> list[Declared]:
    """Return what the entry's classes declare; classes that say the same are said once."""
    names: dict[tuple[str, ...], list[str]] = defaultdict(list)
    for show_class in taken:
        if show_class.pk in cards:
            names[in_words(cards[show_class.pk].policies)].append(show_class.name)
    return [
        Declared(f"How {' and '.join(said)} {'are' if len(said) > 1 else 'is'} judged", sentences)
        for sentences, said in names.items()
    ]


def _outcomes(
    entry: Entry, taken: list[ShowClass], cards: dict[int, ClassCard]
) -> list[ClassOutcome]:
    placings = {placing.result.show_class_id: placing for placing in released_placings(entry)}
    papers: dict[int, list[Paper]] = defaultdict(list)
    for paper in papers_for_entry(entry):
        papers[paper.of_result[0].pk].append(paper)
    sharing = _sharing(list(placings.values()))
    before = sections_as_counted(entry.show, [placing.result for placing in placings.values()])
    outcomes = []
    for show_class in taken:
        placing = placings.get(show_class.pk)
        earlier = before.get(placing.result_id) if placing else None
        counted = _counted(cards.get(show_class.pk), earlier)
        outcomes.append(_outcome(show_class, placing, counted, sharing, papers[show_class.pk]))
    return outcomes


def _counted(
    card: ClassCard | None, before: list[Section] | None
) -> list[tuple[str, str, Decimal]]:
    """Return code, name and points of a class's sections; `before` if the card changed since."""
    now = sorted(card.sections.all(), key=lambda section: section.position) if card else []
    judges = card.judges_per_section if card else 1
    return [(s.code, s.name, s.points * judges) for s in (now if before is None else before)]


def _sharing(placings: list[Placing]) -> dict[int, int]:
    """Return how many entries stand at each of the places, by result."""
    there = Placing.objects.filter(result__in=[placing.result_id for placing in placings])
    counts = Counter(there.values_list("result_id", "place"))
    return {p.result_id: counts[p.result_id, p.place] for p in placings}


def _outcome(
    show_class: ShowClass,
    placing: Placing | None,
    counted: list[tuple[str, str, Decimal]],
    sharing: dict[int, int],
    papers: list[Paper],
) -> ClassOutcome:
    if placing is None:
        return ClassOutcome(show_class, None, "", "", [], [])
    return ClassOutcome(
        show_class=show_class,
        placing=placing,
        place=place_words(placing.place, sharing[placing.result_id]),
        method=METHOD_WORDS[placing.result.method],
        sections=[
            (name, placing.by_section.get(code, "–"), points) for code, name, points in counted
        ],
        papers=papers,
    )
