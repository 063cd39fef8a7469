"""What is read for papers: which there are, how far they are, and what a sheet says."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any, NamedTuple

from django.db.models import Count, Prefetch, Q, QuerySet, Sum

from entries.models import Entry
from entries.rules.eligibility import HEAD_COOK
from judging.models import (
    Card,
    CardMark,
    ClassCard,
    Placing,
    Remark,
    Result,
    SafetyConcern,
    Seat,
    Section,
)
from judging.queries.marks import marks_by_card
from judging.rules.cards import scorecard as values
from judging.rules.cards.score import SectionScore, score_section
from reports.models import Paper
from reports.rules import award, chart, sheet
from reports.rules.letters import judge_letters
from showrun.errors import Conflict
from showrun.shows.models import Show, ShowClass

# An award sheet has room for the wheel at full size below this many letters of names.
TIGHT_FROM_LETTERS = 240


class Progress(NamedTuple):
    """How far the papers of the released results are."""

    done: int
    total: int
    failed: int
    cancelled: int
    unfinished: int


def papers_of(show: Show) -> QuerySet[Paper]:
    """Return all papers of the show, those of replaced results too."""
    papers = Paper.objects.filter(show=show)
    return papers.select_related("show", "show_class", "entry", "result")


def current_papers(show: Show) -> QuerySet[Paper]:
    """Return the papers of the show's released results."""
    return papers_of(show).filter(pk__in=Paper.objects.current())


def papers_for_entry(entry: Entry) -> list[Paper]:
    """Return the finished papers an exhibitor may fetch: of released results only."""
    ready = Paper.objects.current().filter(entry=entry, state=Paper.State.DONE)
    return list(ready.select_related("show", "show_class", "entry", "result"))


def progress(show: Show) -> Progress:
    """Count the papers of the released results by how far they are."""
    state = Paper.State
    counts = current_papers(show).aggregate(
        done=Count("pk", filter=Q(state=state.DONE)),
        total=Count("pk"),
        failed=Count("pk", filter=Q(state=state.FAILED)),
        cancelled=Count("pk", filter=Q(state=state.CANCELLED)),
        unfinished=Count("pk", filter=Q(state__in=[state.WANTED, state.DRAWING])),
    )
    return Progress(**counts)


def results_lacking_papers(show: Show) -> list[Result]:
    """Return the released results nobody has wanted papers of."""
    lacking = Result.objects.released().filter(show_class__show=show).select_related("show_class")
    return list(lacking.exclude(pk__in=Paper.objects.filter(show=show).values("result")))


def released_results_of(entry: Entry) -> list[Result]:
    """Return the released results of the entry's classes, in the show's order."""
    released = Result.objects.released().filter(placings__entry=entry)
    return list(released.select_related("show_class").order_by("show_class__position"))


def unreleased_classes(entry: Entry) -> list[ShowClass]:
    """Return the entry's classes that have no released result."""
    released = Result.objects.released().values("show_class")
    mine = entry.classes.values("show_class")
    return list(ShowClass.objects.filter(pk__in=mine).exclude(pk__in=released))


def paper_by_code(code: str) -> Paper | None:
    """Return the paper with this verification code."""
    return Paper.objects.select_related("result", "show_class").filter(code=code).first()


def version_in_force(paper: Paper) -> int | None:
    """Return the released version of the paper's class, None when there is none."""
    released = Result.objects.released().filter(show_class=paper.show_class_id)
    return released.values_list("version", flat=True).first()


# --- What a sheet says --------------------------------------------------------------------


@dataclass(frozen=True)
class JudgesPoints:
    """One judge's points in one section."""

    judge: str
    points: Decimal | None


@dataclass(frozen=True)
class SectionPart:
    """A section of a feedback sheet."""

    line: sheet.SectionLine
    bar: chart.Bar
    rows: sheet.RowCount
    judges: list[JudgesPoints]
    remarks: list[tuple[str, str]]

    @property
    def written(self) -> Decimal:
        """The judges' points as they wrote them, added up."""
        return sum((one.points or Decimal(0) for one in self.judges), Decimal(0))


def _common(paper: Paper) -> dict[str, Any]:
    """Return what every kind of paper says."""
    placings = list(Placing.objects.filter(result=paper.result_id).select_related("entry"))
    placing = next(one for one in placings if one.entry_id == paper.entry_id)
    sharing = sum(one.place == placing.place for one in placings)
    cook = paper.entry.crew.filter(role=HEAD_COOK).first()
    signatures = paper.result.signatures.select_related("person")
    return {
        "paper": paper,
        "show": paper.show,
        "show_class": paper.show_class,
        "entry": paper.entry,
        "result": paper.result,
        "placing": placing,
        "placings": placings,
        "sharing": sharing,
        "place_words": award.place_words(placing.place, sharing),
        "n_entries_words": award.number(len(placings)),
        "head_cook": cook.name if cook else "",
        "signed_by": [signature.person.name for signature in signatures],
    }


def award_content(paper: Paper) -> dict[str, Any]:
    """Return what the paper's award sheet says; `tight` when names need all the room."""
    common = _common(paper)
    names = [paper.show.name, paper.show.ground, paper.show_class.name, common["head_cook"]]
    length = sum(map(len, [*names, paper.entry.wagon_name, paper.entry.outfit]))
    return {**common, "tight": length > TIGHT_FROM_LETTERS}


def feedback_content(paper: Paper) -> dict[str, Any]:
    """Return what the paper's feedback sheet says.

    Raises `Conflict` when marks were changed after the result was computed: a sheet must
    add up to the total it prints.
    """
    common = _common(paper)
    entry: Entry = paper.entry
    class_card = _class_card(paper)
    sections = list(class_card.sections.all())
    seats = _judged(entry, sections, values.NotInspected(class_card.not_inspected))
    letters = judge_letters([code for _, code, _ in seats], paper.code)
    parts = _parts(common, class_card, sections, seats, letters)
    _demand_sums(paper, common["placing"], parts)
    concerns = SafetyConcern.objects.filter(entry=entry).select_related("criterion")
    return {
        **common,
        "parts": parts,
        "any_remarks": any(part.remarks for part in parts),
        "chart": chart.scale(sheet.axis(part.line for part in parts)),
        "band_words": sheet.band_words(
            common["placing"].place, common["sharing"], len(common["placings"])
        ),
        **_named_rows(entry, common["placings"], sections),
        "concerns": list(concerns.order_by("raised_at", "pk")),
        "judges_per_section": award.number(class_card.judges_per_section),
        "n_judges": class_card.judges_per_section,
        "adjusted": paper.result.method == "judge_adjusted",
        "unseen_is_zero": class_card.not_inspected == values.NotInspected.ZERO,
        "parted_by": common["placing"].decided_by,
    }


def _named_rows(
    entry: Entry, placings: Sequence[Placing], sections: Sequence[Section]
) -> dict[str, Any]:
    """Return the rows the sheet names, each with its section's name."""
    pairs = [(row, part.name) for part in sections for row in part.as_value().criteria]
    section_of = {row.code: name for row, name in pairs}
    shares = _mark_shares([placing.entry_id for placing in placings], sections)
    named = sheet.pick(sheet.standings([row for row, _ in pairs], str(entry.pk), shares))
    return {
        "strongest": [(row, section_of[row.code]) for row in named.strongest],
        "worth_work": [(row, section_of[row.code]) for row in named.worth_work],
        "all_above": bool(named.worth_work) and named.worth_work[0].ahead_share >= 0,
        "weighted": any(row.weight != 1 for row, _ in pairs),
    }


def _class_card(paper: Paper) -> ClassCard:
    sections = Section.objects.prefetch_related("criteria").order_by("position")
    cards = ClassCard.objects.prefetch_related(Prefetch("sections", queryset=sections))
    return cards.get(show_class=paper.show_class_id)


def _judged(
    entry: Entry, sections: Sequence[Section], policy: values.NotInspected
) -> list[tuple[str, str, SectionScore]]:
    """Return (section code, judge code, score) of every seat at the entry."""
    by_code = {section.code: section.as_value() for section in sections}
    seats = Seat.objects.filter(entry=entry, section__in=sections)
    marks = marks_by_card(Card.objects.filter(entry=entry))
    facts = entry.rig.facts()
    return [
        (
            seat.section.code,
            seat.judge.code,
            score_section(
                by_code[seat.section.code], facts, marks[seat.judge_id, entry.pk], policy
            ),
        )
        for seat in seats.select_related("section", "judge").order_by("judge__code")
    ]


def _parts(
    common: Mapping[str, Any],
    class_card: ClassCard,
    sections: Sequence[Section],
    seats: Sequence[tuple[str, str, SectionScore]],
    letters: Mapping[str, str],
) -> list[SectionPart]:
    entry, placing, placings = common["entry"], common["placing"], common["placings"]
    lines = [
        sheet.section_line(
            code=section.code,
            name=section.name,
            possible=section.points * class_card.judges_per_section,
            own=Decimal(placing.by_section[section.code]),
            field=[Decimal(one.by_section[section.code]) for one in placings],
        )
        for section in sections
    ]
    scale = sheet.axis(lines)
    said = _remarks(entry, sections, letters)
    facts = entry.rig.facts()
    parts = []
    for section, line in zip(sections, lines, strict=True):
        here = [(judge, score) for code, judge, score in seats if code == section.code]
        here.sort(key=lambda pair: letters[pair[0]])
        parts.append(
            SectionPart(
                line=line,
                bar=chart.bar(line, scale),
                rows=sheet.count_rows(section.as_value(), facts, [score for _, score in here]),
                judges=[JudgesPoints(letters[judge], score.points) for judge, score in here],
                remarks=sorted(said[section.pk]),
            )
        )
    return parts


def _remarks(
    entry: Entry, sections: Sequence[Section], letters: Mapping[str, str]
) -> dict[int, list[tuple[str, str]]]:
    """Return (judge's letter, words) by section id; of judges who sit at the entry."""
    said: dict[int, list[tuple[str, str]]] = defaultdict(list)
    remarks = Remark.objects.filter(card__entry=entry, section__in=sections).exclude(text="")
    for remark in remarks.select_related("card__judge"):
        code = remark.card.judge.code
        if code in letters:
            said[remark.section_id].append((letters[code], remark.text))
    return said


def _demand_sums(paper: Paper, placing: Placing, parts: Sequence[SectionPart]) -> None:
    """Refuse to print judges' points that do not add up to what the result says of them."""
    if paper.result.method == "plain":
        pairs = [(part.line.name, part.written, part.line.own) for part in parts]
    else:
        together = sum((part.written for part in parts), Decimal(0))
        pairs = [("All sections", together, placing.plain_total or together)]
    for name, written, said in pairs:
        if written != said:
            raise Conflict(
                f"{name}: the judges' points add up to {written}, but version {paper.version} "
                f"of the result says {said}. Marks were changed after it was computed; compute "
                "and release a new version, then make its papers."
            )


def _mark_shares(
    entry_ids: Sequence[int], sections: Sequence[Section]
) -> dict[str, dict[str, Fraction]]:
    """Return the judges' mean mark as a share of the highest, by entry and criterion."""
    highest = {
        row.pk: (row.code, Fraction(row.max_mark))
        for section in sections
        for row in section.criteria.all()
    }
    shares: dict[str, dict[str, Fraction]] = {str(pk): {} for pk in entry_ids}
    sums = (
        CardMark.objects.filter(
            card__entry__in=entry_ids,
            criterion__in=highest,
            state=values.MarkState.MARKED.value,
        )
        .order_by()
        .values_list("card__entry_id", "criterion_id")
        .annotate(given=Sum("value"), judges=Count("pk"))
    )
    for entry_id, criterion_id, given, judges in sums:
        code, most = highest[criterion_id]
        # The engine may add decimals as binary floats; marks have two places at most.
        exact = Fraction(Decimal(given).quantize(Decimal("0.01")))
        shares[str(entry_id)][code] = exact / judges / most
    return shares
