"""What the record of results says: one version of a class's result, and all that stands behind."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Q, prefetch_related_objects

from entries.rules.money_words import dollars
from judging.models import ClassCard, Judge, Placing, Question, Result
from judging.queries.corrections import corrections
from judging.queries.counted import Counted, counted_by
from judging.queries.questions import question_sentence
from judging.rules.cards import scorecard as values
from judging.rules.cards.policies import in_words
from judging.rules.results import method_figures
from judging.rules.results.methods import SAID
from judging.rules.results.places_chart import PlaceLine, PlacesChart, places_chart, span_said
from judging.rules.round.card_hash import plain_number
from reports.models import Paper
from reports.queries.class_papers import result_of
from reports.queries.judged import JudgedClass, judged_class
from reports.queries.record_judges import judges_part, panel_part
from reports.queries.section_parts import OnSheet, demand_sums
from reports.rules.record_words import in_pieces, side_by_side, unchanged_words

# In the units of the drawings: what stands on a page at the size they are printed.
TALLEST_PLACES = 1080
MOST_SECTIONS = 7
GROUP = 4


@dataclass(frozen=True)
class PlacedLine:
    """A wagon in the table of places."""

    placing: Placing
    shared: bool
    total: str
    purse: str
    ranks: str
    reach: str


@dataclass(frozen=True)
class Lack:
    """A card the result lacks."""

    judge: str
    entry: str
    sections: str


def record_content(paper: Paper) -> dict[str, Any]:
    """Return what the paper's record says.

    Raises `Conflict` when marks were changed after the result was computed: what judges gave must
    come to the totals beside it.
    """
    result = result_of(paper)
    placings = list(Placing.objects.filter(result=result).select_related("entry", "result"))
    class_card = ClassCard.objects.prefetch_related("sections").get(show_class=result.show_class_id)
    counted = counted_by(paper.show, [result], {result.show_class_id: class_card})[result.pk]
    prefetch_related_objects(list(counted.sections), "criteria")
    policy = values.NotInspected(class_card.not_inspected)
    judged = judged_class(result, placings, counted, policy)
    judges = Judge.objects.filter(show=paper.show, pk__in={seat.judge for seat in judged.seats})
    judges_by_code = {judge.code: judge for judge in judges.select_related("person")}
    _demand_sums(placings, counted, judged)
    questions = _questions(placings, counted, list(judges_by_code.values()))
    corrected = sum(q.state == Question.State.CORRECTED for q in questions)
    lacks = _lacks(result, placings, counted, judges_by_code)
    paid = sum(placing.purse_cents for placing in placings)
    return {
        "paper": paper,
        "show": paper.show,
        "show_class": result.show_class,
        "result": result,
        "class_card": class_card,
        "counted": counted,
        "method": SAID[result.method],
        "out_of": method_figures.out_of(result.method, counted.possible),
        "ties": _ties(class_card, counted),
        "policies": in_words(class_card.policies),
        "hash": _grouped(result.result_hash),
        "inputs": _grouped(result.inputs_hash),
        "signatures": list(result.signatures.select_related("person")),
        "versions": _versions(result),
        "correction": corrections([result], released=True).get(result.pk),
        "lines": _lines(result, placings),
        "any_reach": any(placing.best_place is not None for placing in placings),
        "any_ranks": any(placing.rank_low is not None for placing in placings),
        "parted": [placing for placing in placings if placing.decided_by],
        "paid": dollars(paid) if paid else "",
        "refused": _refused(result, counted),
        "tables": _section_tables(result, placings, counted),
        "charts": in_pieces(_place_lines(placings), _drawn, TALLEST_PLACES),
        "lacks": lacks,
        "questions": [(question, question_sentence(question)) for question in questions],
        "unchanged": unchanged_words(
            asked=len(questions),
            corrected=corrected,
            missing=len(lacks),
            adjusting=result.method in method_figures.ADJUSTING,
        ),
        **judges_part(placings, counted, judged, judges_by_code),
        **panel_part(result, placings, counted),
    }


def _demand_sums(placings: Sequence[Placing], counted: Counted, judged: JudgedClass) -> None:
    for placing in placings:
        seats = judged.at(placing.entry_id)
        letters = {seat.judge: seat.judge for seat in seats}
        demand_sums(OnSheet(placing.entry, placing, placings, counted, judged, seats, letters))


def _grouped(full: str) -> str:
    """Write a hash in groups, which a line may break between."""
    return " ".join(full[start : start + GROUP] for start in range(0, len(full), GROUP))


def _ties(card: ClassCard, counted: Counted) -> str:
    if not card.tie_ladder:
        return "Entries with equal totals share the place."
    rungs = ", then by ".join(counted.names.get(code, code) for code in card.tie_ladder)
    return f"Equal totals are parted by {rungs}; still equal, they share the place."


def _versions(result: Result) -> list[Result]:
    """Return the versions up to this one, the first first."""
    there = Result.objects.filter(show_class=result.show_class_id, version__lte=result.version)
    return list(there.order_by("version"))


def _refused(result: Result, counted: Counted) -> str:
    """Say why nobody can tell how sure the places are; empty where it was told."""
    words = str((result.uncertainty or {}).get("refused") or "")
    for code, name in sorted(counted.names.items(), key=lambda pair: -len(pair[0])):
        words = words.replace(code, name)
    return words


def _lines(result: Result, placings: Sequence[Placing]) -> list[PlacedLine]:
    sharing = Counter(placing.place for placing in placings)
    return [
        PlacedLine(
            placing=placing,
            shared=sharing[placing.place] > 1,
            total=method_figures.figure(result.method, placing.total),
            purse=dollars(placing.purse_cents) if placing.purse_cents else "",
            ranks=_span(placing.rank_low, placing.rank_high),
            reach=_span(placing.best_place, placing.worst_place),
        )
        for placing in placings
    ]


def _pair(low: int | None, high: int | None) -> tuple[int, int] | None:
    return (low, high) if low is not None and high is not None else None


def _span(low: int | None, high: int | None) -> str:
    pair = _pair(low, high)
    return span_said(pair) if pair else ""


def _place_lines(placings: Sequence[Placing]) -> list[PlaceLine]:
    lines = [
        PlaceLine(
            number=placing.entry.number or 0,
            name=placing.entry.wagon_name,
            place=placing.place,
            ranks=_pair(placing.rank_low, placing.rank_high),
            reach=_pair(placing.best_place, placing.worst_place),
        )
        for placing in placings
    ]
    return lines if any(line.ranks or line.reach for line in lines) else []


def _drawn(lines: Sequence[PlaceLine]) -> PlacesChart:
    return places_chart(lines)


def _section_tables(
    result: Result, placings: Sequence[Placing], counted: Counted
) -> list[dict[str, Any]]:
    """Return the sections' points as tables that fit the page."""
    return [
        {
            "sections": [
                (section.name, plain_number(counted.possible_of(section))) for section in sections
            ],
            "rows": [
                (placing, [_section(result, placing, section.code) for section in sections])
                for placing in placings
            ],
        }
        for sections in side_by_side(list(counted.sections), MOST_SECTIONS)
    ]


def _section(result: Result, placing: Placing, code: str) -> str:
    points = placing.by_section.get(code)
    return method_figures.figure(result.method, Decimal(points)) if points else ""


def _lacks(
    result: Result, placings: Sequence[Placing], counted: Counted, judges: dict[str, Judge]
) -> list[Lack]:
    entries = {placing.entry.number: placing.entry.called for placing in placings}
    cards: dict[tuple[int, str], list[str]] = {}
    for gap in result.gaps:
        name = counted.names.get(gap["section"], gap["section"])
        cards.setdefault((gap["entry"], gap["judge"]), []).append(name)
    return [
        Lack(
            judge=str(judges.get(code, code)),
            entry=entries.get(number, str(number)),
            sections=", ".join(names),
        )
        for (number, code), names in sorted(cards.items())
    ]


def _questions(
    placings: Sequence[Placing], counted: Counted, judges: Sequence[Judge]
) -> list[Question]:
    """Return what was asked of this class's judges about its marks, cards and their day."""
    entries = [placing.entry_id for placing in placings]
    here = Q(entry__in=entries) | Q(other_entry__in=entries) | Q(entry__isnull=True)
    rows = Q(criterion__isnull=True) | Q(criterion__section__code__in=list(counted.names))
    found = Question.objects.filter(here, rows, judge__in=judges).select_related(
        "judge__person", "entry", "other_entry", "criterion", "answered_by"
    )
    return list(found.order_by("asked_at", "pk"))
