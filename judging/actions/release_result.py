"""Sign a result by two hands, and release it; a correction replaces what was released."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from judging.actions.compute_result import demand_panel_stands, demand_rigs_settled
from judging.models import Result, Signature
from judging.queries.results import class_inputs, latest_result, open_questions
from showrun.errors import Conflict, NotYet
from showrun.language import gettext as _
from showrun.language import ngettext
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person

HANDS_NEEDED = 2


def demand_gaps_accepted(result: Result) -> None:
    """Refuse a result with gaps that nobody has taken upon themselves in writing."""
    if result.gaps and not result.gaps_accepted_at:
        n = len(result.gaps)
        raise NotYet(
            ngettext(
                "{n} card is missing of this result. Somebody who may release results must accept "
                "that in writing first.",
                "{n} cards are missing of this result. Somebody who may release results must "
                "accept that in writing first.",
                n,
            ).format(n=n),
            code="gaps-not-accepted",
        )


def demand_current(result: Result) -> None:
    """Refuse a result that is not the newest version, or whose marks or panel do not stand."""
    newest = latest_result(result.show_class)
    if newest is None or newest.pk != result.pk:
        raise Conflict(_("There is a newer version of this result."))
    inputs = class_inputs(result.show_class)
    demand_panel_stands(inputs)
    demand_rigs_settled(inputs)
    if inputs.fingerprint() != result.inputs_hash:
        raise NotYet(
            _("Marks changed after this result was computed. Compute it again, then sign."),
            code="marks-changed",
        )


def demand_whole(result: Result) -> None:
    """Refuse what nobody may put a hand under: it has changed, has gaps, or is in question."""
    demand_current(result)
    demand_gaps_accepted(result)
    waiting = open_questions(result.show_class)
    if waiting:
        raise NotYet(
            ngettext(
                "{waiting} question waits for a judge's answer.",
                "{waiting} questions wait for a judge's answer.",
                waiting,
            ).format(waiting=waiting),
            code="questions-open",
        )


def demand_releasable(result: Result) -> None:
    """Refuse a result that lacks a signature, or that nobody may sign by now."""
    hands = result.signatures.count()
    if hands < HANDS_NEEDED:
        raise NotYet(
            _("A result needs {hands_needed} signatures; it has {hands}.").format(
                hands_needed=HANDS_NEEDED, hands=hands
            ),
            code="signatures-missing",
        )
    demand_whole(result)


@transaction.atomic
def sign_result(*, result: Result, by: Person, at: datetime) -> Result:
    """Put a hand under the result; two different people are needed."""
    result = Result.objects.select_for_update().get(pk=result.pk)
    if result.released_at:
        raise Conflict(_("This result was released already."))
    demand_whole(result)
    if result.signatures.filter(person=by).exists():
        raise Conflict(_("You have signed this result; the second hand must be another person's."))
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
    demand_releasable(result)
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
        after={"hour_set": result.release_due_at.isoformat()} if result.release_due_at else None,
        reason=result.reason,
    )
    return result
