"""What a sheet says: one entry of a released result, beside its class."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db.models import prefetch_related_objects

from entries.models import Entry
from entries.rules.eligibility import HEAD_COOK
from entries.rules.money_words import dollars
from entries.rules.rig import WORDS
from judging.models import ClassCard, Placing, Result, RigReport, SafetyConcern, Section
from judging.queries.counted import counted_by
from judging.rules.cards import scorecard as values
from judging.rules.cards.policies import policy_sentences
from judging.rules.results import method_figures
from reports.models import Paper
from reports.queries.judge_names import called_judges, judges_named
from reports.queries.judged import JudgedClass, judged_class
from reports.queries.section_parts import OnSheet, demand_sums, section_parts
from reports.rules import award, chart, counting, sheet
from reports.rules.gaps import missing_said
from reports.rules.in_short import in_short
from showrun.language import gettext as _
from showrun.shows.models import ShowClass

# An award sheet has room for the wheel at full size below this many letters of names.
TIGHT_FROM_LETTERS = 240
# Wagons whose missing cards an award sheet names.
MOST_ON_AWARD = 3


def _common(show_class: ShowClass, entry: Entry, result: Result) -> dict[str, Any]:
    """Return what every kind of sheet says."""
    placings = list(Placing.objects.filter(result=result).select_related("entry", "result"))
    placing = next(one for one in placings if one.entry_id == entry.pk)
    sharing = sum(one.place == placing.place for one in placings)
    cook = entry.crew.filter(role=HEAD_COOK).first()
    signatures = result.signatures.select_related("person")
    class_card = ClassCard.objects.prefetch_related("sections").get(show_class=show_class)
    counted = counted_by(show_class.show, [result], {show_class.pk: class_card})[result.pk]
    return {
        "show": show_class.show,
        "show_class": show_class,
        "class_card": class_card,
        "entry": entry,
        "result": result,
        "placing": placing,
        "placings": placings,
        "counted": counted,
        "total": method_figures.figure(result.method, placing.total),
        "out_of": method_figures.out_of(result.method, counted.possible),
        "purse": dollars(placing.purse_cents) if placing.purse_cents else "",
        "sharing": sharing,
        "place_words": award.place_words(placing.place, sharing),
        "n_entries_words": award.number(len(placings)),
        "head_cook": cook.name if cook else "",
        "signed_by": [signature.person.name for signature in signatures],
        "unseen_is_zero": class_card.not_inspected == values.NotInspected.ZERO,
    }


def award_content(paper: Paper) -> dict[str, Any]:
    """Return what the paper's award sheet says; `tight` when names need all the room."""
    show_class, entry, result = paper.of_result
    common = _common(show_class, entry, result)
    names = [paper.show.name, paper.show.ground, show_class.name, common["head_cook"]]
    length = sum(map(len, [*names, entry.wagon_name, entry.outfit]))
    line = counting.method_line(
        method=result.method,
        judges=common["counted"].judges,
        unseen_is_zero=common["unseen_is_zero"],
    )
    missing = missing_said(result.gaps, result.method, common["counted"].names, most=MOST_ON_AWARD)
    return {
        **common,
        "paper": paper,
        "tight": length > TIGHT_FROM_LETTERS or missing is not None,
        "method_line": line,
        "missing": missing,
    }


def feedback_content(paper: Paper) -> dict[str, Any]:
    """Return what the paper's feedback sheet says."""
    show_class, entry, result = paper.of_result
    return {"paper": paper, **feedback_of(show_class, entry, result)}


def feedback_of(show_class: ShowClass, entry: Entry, result: Result) -> dict[str, Any]:
    """Return an entry's feedback in a released result: what its sheet and its page say.

    Raises `Conflict` when marks were changed after the result was computed: a sheet must
    add up to the total it prints.
    """
    common = _common(show_class, entry, result)
    class_card, counted = common["class_card"], common["counted"]
    sections = list(counted.sections)
    prefetch_related_objects(sections, "criteria")
    policy = values.NotInspected(class_card.not_inspected)
    judged = judged_class(result, common["placings"], counted, policy)
    seats = judged.at(entry.pk)
    named = judges_named(result)
    letters = called_judges(entry, result, [seat.judge for seat in seats], named=named)
    on = OnSheet(entry, common["placing"], common["placings"], counted, judged, seats, letters)
    demand_sums(on)
    parts = section_parts(on)
    concerns = SafetyConcern.objects.filter(entry=entry).select_related("criterion")
    compared = all(part.bar for part in parts)
    return {
        **common,
        "parts": parts,
        "in_short": in_short([part.line for part in parts]),
        "names_judges": named,
        "any_remarks": any(part.remarks for part in parts),
        "chart": chart.scale(sheet.axis(part.line for part in parts)) if compared else None,
        "band_words": sheet.band_words(
            common["placing"].place, common["sharing"], len(common["placings"])
        ),
        **_named_rows(entry, judged, sections),
        "declared": policy_sentences(class_card.policies),
        "rig": entry.rig.said(),
        "entered_as": _entered_as(entry),
        "forms": {section.form for section in sections},
        "concerns": list(concerns.order_by("raised_at", "pk")),
        "judges_per_section": award.number(counted.judges),
        "n_judges": counted.judges,
        "by_places": result.method == method_figures.PLACES,
        "adjusted": result.method in method_figures.ADJUSTING,
        "said": counting.method_words(result.method),
        "told": counting.TOLD[result.method],
        "missing": missing_said(
            result.gaps, result.method, counted.names, own=entry.number, letters=letters
        ),
        "parted_by": common["placing"].decided_by,
    }


def _named_rows(entry: Entry, judged: JudgedClass, sections: Sequence[Section]) -> dict[str, Any]:
    """Return the rows the sheet names, each with its section's name."""
    # A place or a pass has no middle to stand above or below.
    scored = [part for part in sections if part.form == values.Form.POINTS]
    pairs = [(row, part.name) for part in scored for row in part.as_value().criteria]
    section_of = {row.code: name for row, name in pairs}
    looked_at = {row.code: row.guidance for part in scored for row in part.criteria.all()}
    picked = sheet.pick(sheet.standings([row for row, _ in pairs], str(entry.pk), judged.shares()))
    return {
        "strongest": [(row, section_of[row.code]) for row in picked.strongest],
        "worth_work": [
            (row, section_of[row.code], looked_at[row.code]) for row in picked.worth_work
        ],
        "all_above": bool(picked.worth_work) and picked.worth_work[0].ahead_share >= 0,
        "weighted": any(row.weight != 1 for row, _ in pairs),
    }


def _entered_as(entry: Entry) -> str:
    """Say what was entered and corrected at the wagon since; nothing where nothing was."""
    adopted = RigReport.objects.filter(entry=entry, state=RigReport.State.ADOPTED)
    first = adopted.order_by("settled_at", "pk").first()
    if first is None:
        return ""
    now = entry.rig.facts()
    return ", ".join(
        _(WORDS[first.entered[name]]) for name in now if first.entered[name] != now[name]
    )
