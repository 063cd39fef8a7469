"""Compute a class's result, sign it by two hands, release it; corrections are new versions."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from judging.actions.ask_questions import ask_questions
from judging.models import Placing, Result, Signature
from judging.queries.results import (
    ClassInputs,
    class_inputs,
    latest_result,
    number_of,
    open_questions,
    rig_open,
)
from judging.rules.results.placing import Placing as Placed
from judging.rules.results.placing import place
from judging.rules.results.totals import METHODS, Totals
from showrun.errors import Conflict, InvalidInput, NotYet
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show, ShowClass

# Changes whenever the same marks could give another result.
RULE_VERSION = "2"
HANDS_NEEDED = 2


@transaction.atomic
def compute_result(
    *, show_class: ShowClass, by: Person | None, at: datetime, reason: str = ""
) -> Result:
    """Compute the result by the method declared, with the other method beside it.

    The checks run with it. While a card is missing there is no result, only a list of what
    is missing. The same marks give the same version again.
    """
    Show.objects.select_for_update().get(pk=show_class.show_id)
    inputs = class_inputs(show_class)
    _demand_complete(inputs)
    ask_questions(show=show_class.show, by=by, at=at)
    newest = latest_result(show_class)
    fingerprint = inputs.fingerprint()
    if newest and newest.inputs_hash == fingerprint and newest.rule_version == RULE_VERSION:
        return newest
    if newest and newest.released_at and not reason.strip():
        raise InvalidInput(
            "This class was released; a correction needs its reason.",
            code="reason-needed",
            fields={"reason": "Why is the result corrected?"},
        )
    totals = _by_every_method(inputs)
    declared = totals[inputs.class_card.method]
    if declared.refused:
        raise Conflict(declared.refused, code="method-refused")
    if declared.missing:
        # Counting rows has let this through; nobody is left out of a result in silence.
        lacking = ", ".join(f"entry {gap.entry}, {gap.section}" for gap in declared.missing)
        raise NotYet(f"{show_class.name} is incomplete: {lacking}.", code="incomplete")
    result = Result.objects.create(
        show_class=show_class,
        version=newest.version + 1 if newest else 1,
        method=inputs.class_card.method,
        rule_version=RULE_VERSION,
        inputs_hash=fingerprint,
        computed_at=at,
        computed_by=by,
        possible_points=_possible(inputs),
        judge_effects=_rounded(totals["judge_adjusted"].judge_effects),
        refusals={name: t.refused for name, t in totals.items() if t.refused},
        reason=reason.strip()[:300],
    )
    _write_placings(result, inputs, totals)
    record_change(
        show=show_class.show,
        actor=by,
        at=at,
        verb="computed",
        subject=f"result {result}",
        after={"method": result.method, "inputs": fingerprint},
        reason=reason,
    )
    return result


def _demand_complete(inputs: ClassInputs) -> None:
    name = inputs.class_card.show_class.name
    if not inputs.entries:
        raise NotYet(f"{name} has no confirmed entry.")
    if inputs.unseated:
        entry, section, short = inputs.unseated[0]
        raise NotYet(
            f"{name} is incomplete: entry {entry} lacks {short} judge{'s' if short > 1 else ''} "
            f"for {section}. Draw the panel, or mend it.",
            code="panel-incomplete",
        )
    if inputs.in_conflict:
        raise NotYet(
            f"A judge in conflict is seated: {inputs.in_conflict[0]}. Mend the panel first.",
            code="judge-in-conflict",
        )
    _demand_rigs_settled(inputs)
    missing = inputs.missing
    if missing:
        raise NotYet(
            f"{name} is incomplete: {len(missing)} section{'s' if len(missing) > 1 else ''} "
            f"missing. {missing[0].in_words()}.",
            code="incomplete",
            missing=[
                {
                    "entry": gap.entry.number,
                    "judge": gap.judge_code,
                    "section": gap.section,
                    "rows_without_mark": gap.rows,
                    "handed_in": gap.handed_in,
                }
                for gap in missing
            ],
        )
    if inputs.placed.against:
        raise NotYet(f"{name} is incomplete: {inputs.placed.against[0]}", code="places-incomplete")


def _demand_rigs_settled(inputs: ClassInputs) -> None:
    if inputs.rigs_open:
        raise NotYet(rig_open(inputs.rigs_open[0]), code="rig-open")


def _by_every_method(inputs: ClassInputs) -> dict[str, Totals[int]]:
    points = inputs.points
    entries = [number_of(entry) for entry in inputs.entries]
    sections = [section.code for section in inputs.sections]
    required = inputs.judges_required
    totals = {name: method(points, entries, sections, required) for name, method in METHODS.items()}
    if inputs.placed.sections:
        totals["judge_adjusted"] = _not_by_places(entries, list(inputs.placed.sections.values()))
    return totals


def _not_by_places(entries: list[int], names: list[str]) -> Totals[int]:
    """Refuse to adjust places: they tell an order and no judge's severity."""
    sections = f"{', '.join(names)} {'is' if len(names) == 1 else 'are'}"
    return Totals(
        total=dict.fromkeys(entries),
        by_section={},
        missing=(),
        refused=f"Totals cannot be adjusted for the judges: {sections} judged by places only, and "
        "places do not show how high or low a judge scores.",
    )


def _possible(inputs: ClassInputs) -> Decimal:
    each = sum((section.points for section in inputs.sections), Decimal(0))
    return each * inputs.class_card.judges_per_section


def _rounded(effects: dict[str, dict[Any, float]]) -> dict[str, dict[str, float]]:
    return {
        section: {str(judge): round(effect, 3) for judge, effect in by_judge.items()}
        for section, by_judge in effects.items()
    }


def _write_placings(result: Result, inputs: ClassInputs, totals: dict[str, Totals[int]]) -> None:
    ladder = inputs.class_card.tie_ladder
    placed: dict[str, dict[int, Placed[int]]] = {
        name: {}
        if found.refused
        else {line.entry: line for line in place(found.complete, found.by_section, ladder)}
        for name, found in totals.items()
    }
    names = {section.code: section.name for section in inputs.sections}
    by_number = {number_of(entry): entry for entry in inputs.entries}
    declared = placed[result.method]
    plain, adjusted = placed["plain"], placed["judge_adjusted"]
    Placing.objects.bulk_create(
        Placing(
            result=result,
            entry=by_number[entry],
            place=line.place,
            total=line.total,
            plain_total=plain[entry].total if entry in plain else None,
            adjusted_total=adjusted[entry].total if entry in adjusted else None,
            plain_place=plain[entry].place if entry in plain else None,
            adjusted_place=adjusted[entry].place if entry in adjusted else None,
            decided_by=names.get(line.decided_by or "", ""),
            by_section={
                code: str(points)
                for code, points in totals[result.method].by_section[entry].items()
            },
        )
        for entry, line in declared.items()
    )


def _demand_current(result: Result) -> None:
    newest = latest_result(result.show_class)
    if newest is None or newest.pk != result.pk:
        raise Conflict("There is a newer version of this result.")
    inputs = class_inputs(result.show_class)
    _demand_rigs_settled(inputs)
    if inputs.fingerprint() != result.inputs_hash:
        raise NotYet(
            "Marks changed after this result was computed. Compute it again, then sign.",
            code="marks-changed",
        )


@transaction.atomic
def sign_result(*, result: Result, by: Person, at: datetime) -> Result:
    """Put a hand under the result; two different people are needed."""
    result = Result.objects.select_for_update().get(pk=result.pk)
    if result.released_at:
        raise Conflict("This result was released already.")
    _demand_current(result)
    waiting = open_questions(result.show_class)
    if waiting:
        raise NotYet(
            f"{waiting} question{'s wait' if waiting > 1 else ' waits'} for a judge's answer.",
            code="questions-open",
        )
    if result.signatures.filter(person=by).exists():
        raise Conflict("You have signed this result; the second hand must be another person's.")
    Signature.objects.create(result=result, person=by, signed_at=at)
    record_change(
        show=result.show_class.show,
        actor=by,
        at=at,
        verb="signed",
        subject=f"result {result}",
        after={"inputs": result.inputs_hash},
    )
    return result


@transaction.atomic
def release_result(*, result: Result, by: Person, at: datetime) -> Result:
    """Make the result public; an earlier release of the class is replaced by it."""
    result = Result.objects.select_for_update().get(pk=result.pk)
    if result.released_at:
        return result
    hands = result.signatures.count()
    if hands < HANDS_NEEDED:
        raise NotYet(
            f"A result needs {HANDS_NEEDED} signatures; it has {hands}.", code="signatures-missing"
        )
    _demand_current(result)
    earlier = Result.objects.released().filter(show_class=result.show_class)
    earlier.exclude(pk=result.pk).update(replaced_at=at)
    result.released_at, result.released_by = at, by
    result.save(update_fields=["released_at", "released_by"])
    record_change(
        show=result.show_class.show,
        actor=by,
        at=at,
        verb="released",
        subject=f"result {result}",
        reason=result.reason,
    )
    return result
