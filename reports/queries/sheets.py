"""What a sheet says: one entry of a released result, beside its class."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.db.models import Count, Prefetch, Sum

from entries.models import Entry
from entries.rules.eligibility import HEAD_COOK
from entries.rules.rig import WORDS
from judging.models import (
    Card,
    CardMark,
    ClassCard,
    Placing,
    Remark,
    RigReport,
    SafetyConcern,
    Seat,
    Section,
)
from judging.models.card import EMPTY
from judging.queries.marks import marks_by_card
from judging.queries.rigs import card_facts
from judging.rules.cards import scorecard as values
from judging.rules.cards.policies import in_words
from judging.rules.cards.score import SectionScore, score_section
from judging.rules.round.card_hash import plain_number
from reports.models import Paper
from reports.rules import award, chart, sheet
from reports.rules.letters import judge_letters
from showrun.errors import Conflict

# An award sheet has room for the wheel at full size below this many letters of names.
TIGHT_FROM_LETTERS = 240


@dataclass(frozen=True)
class Seated:
    """One judge's section at the entry, as it counted."""

    section: str
    judge: str
    facts: Mapping[str, str]
    marks: Mapping[str, values.Mark]
    score: SectionScore


@dataclass(frozen=True)
class JudgesPoints:
    """One judge's points in one section, and the place where that is what was given."""

    judge: str
    points: Decimal | None
    place: str = ""


@dataclass(frozen=True)
class SectionPart:
    """A section of a feedback sheet."""

    line: sheet.SectionLine
    bar: chart.Bar
    rows: sheet.RowCount
    judges: list[JudgesPoints]
    remarks: list[tuple[str, str]]
    form: values.Form
    all_or_nothing: bool
    # Rows with a mark that does not count: the rig turned out not to have them.
    aside: list[str]

    @property
    def written(self) -> Decimal:
        """The judges' points as they wrote them, added up."""
        return sum((one.points or Decimal(0) for one in self.judges), Decimal(0))


def _common(paper: Paper) -> dict[str, Any]:
    """Return what every kind of paper says."""
    show_class, entry, result = paper.of_result
    placings = list(Placing.objects.filter(result=result).select_related("entry"))
    placing = next(one for one in placings if one.entry_id == entry.pk)
    sharing = sum(one.place == placing.place for one in placings)
    cook = entry.crew.filter(role=HEAD_COOK).first()
    signatures = result.signatures.select_related("person")
    return {
        "paper": paper,
        "show": paper.show,
        "show_class": show_class,
        "entry": entry,
        "result": result,
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
    show_class, entry, result = paper.of_result
    names = [paper.show.name, paper.show.ground, show_class.name, common["head_cook"]]
    length = sum(map(len, [*names, entry.wagon_name, entry.outfit]))
    class_card = ClassCard.objects.get(show_class=show_class)
    line = award.method_line(
        adjusted=result.method == "judge_adjusted",
        judges=class_card.judges_per_section,
        unseen_is_zero=_unseen_is_zero(class_card),
    )
    return {**common, "tight": length > TIGHT_FROM_LETTERS, "method_line": line}


def _unseen_is_zero(class_card: ClassCard) -> bool:
    return class_card.not_inspected == values.NotInspected.ZERO


def feedback_content(paper: Paper) -> dict[str, Any]:
    """Return what the paper's feedback sheet says.

    Raises `Conflict` when marks were changed after the result was computed: a sheet must
    add up to the total it prints.
    """
    common = _common(paper)
    _, entry, result = paper.of_result
    class_card = _class_card(paper)
    sections = list(class_card.sections.all())
    seats = _judged(entry, class_card, sections, common["placings"])
    letters = judge_letters([seat.judge for seat in seats], paper.code)
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
        "declared": in_words(class_card.policies),
        "rig": entry.rig.in_words(),
        "entered_as": _entered_as(entry),
        "forms": {section.form for section in sections},
        "concerns": list(concerns.order_by("raised_at", "pk")),
        "judges_per_section": award.number(class_card.judges_per_section),
        "n_judges": class_card.judges_per_section,
        "adjusted": result.method == "judge_adjusted",
        "unseen_is_zero": _unseen_is_zero(class_card),
        "parted_by": common["placing"].decided_by,
    }


def _named_rows(
    entry: Entry, placings: Sequence[Placing], sections: Sequence[Section]
) -> dict[str, Any]:
    """Return the rows the sheet names, each with its section's name."""
    # A place or a pass has no middle to stand above or below.
    scored = [part for part in sections if part.form == values.Form.POINTS]
    pairs = [(row, part.name) for part in scored for row in part.as_value().criteria]
    section_of = {row.code: name for row, name in pairs}
    shares = _mark_shares([placing.entry_id for placing in placings], scored)
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
    entry: Entry, class_card: ClassCard, sections: Sequence[Section], placings: Sequence[Placing]
) -> list[Seated]:
    """Return every seat at the entry with what its judge gave, by judge."""
    by_code = {section.code: section.as_value() for section in sections}
    policy = values.NotInspected(class_card.not_inspected)
    cards = {card.judge_id: card for card in Card.objects.filter(entry=entry)}
    marks = marks_by_card(cards.values())
    places = _places(sections, [placing.entry_id for placing in placings])
    seats = Seat.objects.filter(entry=entry, section__in=sections)
    judged = []
    for seat in seats.select_related("section", "judge").order_by("judge__code"):
        code, given = seat.section.code, marks[seat.judge_id, entry.pk]
        facts = card_facts(cards.get(seat.judge_id), entry)
        here = places.get((code, seat.judge_id))
        score = score_section(by_code[code], facts, given, policy, here)
        judged.append(Seated(code, seat.judge.code, facts, given, score))
    return judged


def _places(
    sections: Sequence[Section], entry_ids: Sequence[int]
) -> dict[tuple[str, int], list[Decimal]]:
    """Return the places each judge gave in the class, by section code and judge id."""
    found: dict[tuple[str, int], list[Decimal]] = defaultdict(list)
    placed = [section for section in sections if section.form == values.Form.PLACINGS]
    if placed:
        marks = CardMark.objects.filter(
            card__entry__in=entry_ids, criterion__section__in=placed, aside=False
        ).exclude(value=None)
        rows = marks.values_list("criterion__section__code", "card__judge_id", "value")
        for code, judge_id, value in rows:
            found[code, judge_id].append(Decimal(value or 0))
    return found


def _parts(
    common: Mapping[str, Any],
    class_card: ClassCard,
    sections: Sequence[Section],
    seats: Sequence[Seated],
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
    aside = _aside(entry, sections)
    parts = []
    for section, line in zip(sections, lines, strict=True):
        here = [seat for seat in seats if seat.section == section.code]
        here.sort(key=lambda seat: letters[seat.judge])
        facts = here[0].facts if here else entry.rig.facts()
        parts.append(
            SectionPart(
                line=line,
                bar=chart.bar(line, scale),
                rows=sheet.count_rows(section.as_value(), facts, [seat.marks for seat in here]),
                judges=[_points_of(section, seat, letters) for seat in here],
                remarks=sorted(said[section.pk]),
                form=values.Form(section.form),
                all_or_nothing=section.all_or_nothing,
                aside=aside[section.pk],
            )
        )
    return parts


def _points_of(section: Section, seat: Seated, letters: Mapping[str, str]) -> JudgesPoints:
    """Return a judge's points; in a section of places with the place they follow from."""
    row = section.as_value().criteria[0] if section.form == values.Form.PLACINGS else None
    mark = seat.marks.get(row.code) if row else None
    place = plain_number(mark.value) if mark and mark.value is not None else ""
    return JudgesPoints(letters[seat.judge], seat.score.points, place)


def _aside(entry: Entry, sections: Sequence[Section]) -> dict[int, list[str]]:
    """Return the rows with a mark kept aside, by section id."""
    found: dict[int, list[str]] = defaultdict(list)
    kept = CardMark.objects.filter(card__entry=entry, criterion__section__in=sections, aside=True)
    rows = kept.exclude(state=EMPTY).order_by("criterion__position", "criterion__name")
    for section_id, name in rows.values_list("criterion__section", "criterion__name").distinct():
        found[section_id].append(name)
    return found


def _entered_as(entry: Entry) -> str:
    """Say what was entered and corrected at the wagon since; nothing where nothing was."""
    adopted = RigReport.objects.filter(entry=entry, state=RigReport.State.ADOPTED)
    first = adopted.order_by("settled_at", "pk").first()
    if first is None:
        return ""
    now = entry.rig.facts()
    return ", ".join(WORDS[first.entered[name]] for name in now if first.entered[name] != now[name])


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
    if paper.of_result[2].method == "plain":
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
            aside=False,
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
