"""Accept in writing that a result is given although cards of it are missing."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from judging.models import Result
from judging.queries.results import latest_result
from showrun.errors import Conflict, InvalidInput
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person

LONGEST_REASON = 300  # letters, as kept


@transaction.atomic
def accept_gaps(*, result: Result, by: Person, reason: str, at: datetime) -> Result:
    """Accept in writing that the result stands without the cards it lacks.

    Only for this version: another version asks again. Asking twice changes nothing.
    """
    result = Result.objects.select_for_update(of=("self",)).get(pk=result.pk)
    if not result.gaps:
        raise Conflict(_("No card is missing of this result; there is nothing to accept."))
    if result.gaps_accepted_at:
        return result
    newest = latest_result(result.show_class)
    if newest is None or newest.pk != result.pk:
        raise Conflict(_("There is a newer version of this result."))
    reason = reason.strip()
    if not reason:
        raise InvalidInput(
            _("Say why the result is given without these cards."),
            code="reason-needed",
            fields={"reason": _("Why do the cards stay missing? Everybody may read this.")},
        )
    if len(reason) > LONGEST_REASON:
        raise InvalidInput(
            _("The reason is too long."),
            fields={"reason": _("At most {longest} letters.").format(longest=LONGEST_REASON)},
        )
    result.gaps_accepted_by, result.gaps_accepted_at, result.gaps_reason = by, at, reason
    result.save(update_fields=["gaps_accepted_by", "gaps_accepted_at", "gaps_reason"])
    record_change(
        show=result.show_class.show,
        actor=by,
        at=at,
        verb="accepted gaps",
        subject=f"result {result}",
        after={"gaps": result.gaps, "inputs": result.inputs_hash},
        reason=reason,
    )
    return result
