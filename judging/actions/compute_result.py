"""Compute a class's result; the same marks give the same version, others a new one."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from judging.actions.ask_questions import ask_questions
from judging.models import Placing, Result
from judging.queries.computed import Computed
from judging.queries.results import (
    ClassInputs,
    MissingMarks,
    class_inputs,
    latest_result,
    number_of,
    rig_open,
)
from judging.rules.cards.scorecard import Form
from judging.rules.results.class_result import RULE_VERSION
from judging.rules.results.method_figures import can_give
from showrun.errors import Conflict, InvalidInput, NotYet
from showrun.language import gettext as _
from showrun.language import ngettext
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show, ShowClass


@transaction.atomic
def compute_result(
    *,
    show_class: ShowClass,
    by: Person | None,
    at: datetime,
    reason: str = "",
    with_gaps: bool = False,
) -> Result:
    """Compute the result by the method declared, with every other method beside it.

    The checks run with it. While a card is missing there is no result, only a list of what
    is missing; `with_gaps` computes with what is there, and the result names what it lacks.
    The same marks give the same version again.
    """
    Show.objects.select_for_update().get(pk=show_class.show_id)
    inputs = class_inputs(show_class)
    _demand_ready(inputs)
    if inputs.missing:
        _demand_gaps_possible(inputs, wanted=with_gaps)
    ask_questions(show=show_class.show, by=by, at=at)
    newest = latest_result(show_class)
    computed = Computed(inputs)
    fingerprint = computed.inputs_hash
    if newest and newest.inputs_hash == fingerprint and newest.rule_version == RULE_VERSION:
        return newest
    if newest and newest.released_at and not reason.strip():
        raise InvalidInput(
            _("This class was released; a correction needs its reason."),
            code="reason-needed",
            fields={"reason": _("Why is the result corrected?")},
        )
    _demand_placed(computed)
    found = computed.found
    result = Result.objects.create(
        show_class=show_class,
        version=newest.version + 1 if newest else 1,
        method=inputs.class_card.method,
        rule_version=RULE_VERSION,
        inputs_hash=fingerprint,
        result_hash=computed.result_hash,
        computed_at=at,
        computed_by=by,
        possible_points=_possible(inputs),
        judge_effects=_rounded(found.judge_effects),
        refusals=dict(found.refusals),
        uncertainty=computed.uncertainty,
        gaps=computed.gaps,
        reason=reason.strip()[:300],
    )
    _write_placings(result, computed)
    record_change(
        show=show_class.show,
        actor=by,
        at=at,
        verb="computed",
        subject=f"result {result}",
        after={
            "method": result.method,
            "inputs": fingerprint,
            "result": result.result_hash,
            **({"gaps": result.gaps} if result.gaps else {}),
        },
        reason=reason,
    )
    return result


def _demand_ready(inputs: ClassInputs) -> None:
    """Refuse what no card could mend."""
    name = inputs.class_card.show_class.name
    if not inputs.entries:
        raise NotYet(_("{name} has no confirmed entry.").format(name=name))
    demand_panel_stands(inputs)
    demand_rigs_settled(inputs)
    if inputs.placed.against and not inputs.missing:
        raise NotYet(
            _("{name} is incomplete: {why}").format(name=name, why=inputs.placed.against[0]),
            code="places-incomplete",
        )


def _demand_gaps_possible(inputs: ClassInputs, *, wanted: bool) -> None:
    """Refuse a class with cards missing, unless it is wanted so and can be placed without them."""
    name, missing = inputs.class_card.show_class.name, inputs.missing
    if not wanted:
        raise NotYet(
            ngettext(
                "{name} is incomplete: {n} section missing. {first}.",
                "{name} is incomplete: {n} sections missing. {first}.",
                len(missing),
            ).format(name=name, n=len(missing), first=missing[0].in_words()),
            code="incomplete",
            missing=[_told(gap) for gap in missing],
        )
    if inputs.placed.against:
        raise NotYet(
            _("{name} is incomplete: {why}").format(name=name, why=inputs.placed.against[0]),
            code="places-incomplete",
        )
    ranked = {section.code for section in inputs.sections if section.form is Form.PLACINGS}
    unranked = [gap for gap in missing if gap.section in ranked]
    if unranked:
        raise NotYet(
            _(
                "{name} cannot be placed without this card, for a place says something only among "
                "all wagons: {card}."
            ).format(name=name, card=unranked[0].in_words()),
            code="places-incomplete",
        )


def _told(gap: MissingMarks) -> dict[str, Any]:
    return {
        "entry": gap.entry.number,
        "judge": gap.judge_code,
        "section": gap.section,
        "rows_without_mark": gap.rows,
        "handed_in": gap.handed_in,
    }


def demand_panel_stands(inputs: ClassInputs) -> None:
    """Refuse a class with more or fewer judges than declared, or one whom a conflict bars."""
    name = inputs.class_card.show_class.name
    if inputs.unseated:
        entry, section, short = inputs.unseated[0]
        raise NotYet(
            ngettext(
                "{name} is incomplete: entry {entry} lacks {short} judge for {section}. Draw the "
                "panel, or mend it.",
                "{name} is incomplete: entry {entry} lacks {short} judges for {section}. Draw the "
                "panel, or mend it.",
                short,
            ).format(name=name, entry=entry.called, short=short, section=section),
            code="panel-incomplete",
        )
    if inputs.too_many:
        entry, section = inputs.too_many[0]
        raise NotYet(
            _(
                "{name} was declared with fewer judges than sit at entry {entry} for {section}. "
                "Mend the panel."
            ).format(name=name, entry=entry.called, section=section),
            code="panel-incomplete",
        )
    if inputs.in_conflict:
        raise NotYet(
            _("A judge in conflict is seated: {judge}. Mend the panel first.").format(
                judge=inputs.in_conflict[0]
            ),
            code="judge-in-conflict",
        )


def demand_rigs_settled(inputs: ClassInputs) -> None:
    """Refuse a class at whose wagons a rig waits for the office."""
    if inputs.rigs_open:
        raise NotYet(rig_open(inputs.rigs_open[0]), code="rig-open")


def _demand_placed(computed: Computed) -> None:
    """Refuse a class that the method declared cannot place."""
    found, name = computed.found, computed.inputs.class_card.show_class.name
    if found.refused:
        raise Conflict(found.refused, code="method-refused")
    if found.unplaced:
        # Nobody is left out of a result in silence.
        lacking = ", ".join(
            _("entry {entry}, {section}").format(entry=entry, section=section)
            for entry, section in found.unplaced
        )
        raise NotYet(
            _("{name} is incomplete: {lacking}.").format(name=name, lacking=lacking),
            code="incomplete",
        )


def _possible(inputs: ClassInputs) -> Decimal:
    card, n_entries = inputs.class_card, len(inputs.entries)
    each = (
        can_give(card.method, section.points, card.judges_per_section, n_entries)
        for section in inputs.sections
    )
    return sum(each, Decimal(0))


def _rounded(effects: Mapping[str, Mapping[Any, float]]) -> dict[str, dict[str, float]]:
    return {
        section: {str(judge): round(effect, 3) for judge, effect in by_judge.items()}
        for section, by_judge in effects.items()
    }


def _write_placings(result: Result, computed: Computed) -> None:
    by_number = {number_of(entry): entry for entry in computed.inputs.entries}
    names = computed.section_names
    placings = []
    for line in computed.found.lines:
        plain, adjusted = line.by_method.get("plain"), line.by_method.get("judge_adjusted")
        low, high = line.ranks or (None, None)
        best, worst = line.reach or (None, None)
        placings.append(
            Placing(
                result=result,
                entry=by_number[line.entry],
                place=line.place,
                total=line.total,
                plain_total=plain.total if plain else None,
                plain_place=plain.place if plain else None,
                adjusted_total=adjusted.total if adjusted else None,
                adjusted_place=adjusted.place if adjusted else None,
                decided_by=names.get(line.decided_by or "", ""),
                by_section={code: str(points) for code, points in line.by_section.items()},
                by_method={name: computed.told(by) for name, by in line.by_method.items()},
                rank_low=low,
                rank_high=high,
                best_place=best,
                worst_place=worst,
                purse_cents=line.purse_cents,
            )
        )
    Placing.objects.bulk_create(placings)
