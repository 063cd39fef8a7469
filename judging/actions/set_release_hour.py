"""An embargo: a signed result goes out by itself at an hour the office sets.

A release that could not be made at its hour is not made later by itself: the hour is struck, and
the record says why. The office then sets another, or releases by hand.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import transaction

from judging.actions.release_result import demand_releasable, release_result
from judging.models import Result
from judging.queries.release_hours import STOPPED, due_results
from showrun.errors import Conflict, InvalidInput, ShowError
from showrun.language import gettext as _
from showrun.language import in_english
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show
from showrun.shows.rules.wall_clock import reason_against_hour

FURTHEST = timedelta(days=366)
_HOUR = ["release_due_at", "release_due_by"]


def _locked(result_id: int) -> Result:
    rows = Result.objects.select_for_update(of=("self",)).select_related("show_class__show")
    return rows.get(pk=result_id)


@transaction.atomic
def set_release_hour(*, result: Result, due: datetime, by: Person, at: datetime) -> Result:
    """Let a result that could be released now go out at a later hour instead."""
    result = _locked(result.pk)
    if result.released_at:
        raise Conflict(_("This result is released already."))
    demand_releasable(result)
    _demand_hour(due, at)
    before = result.release_due_at
    if before == due:
        return result
    result.release_due_at, result.release_due_by = due, by
    result.save(update_fields=_HOUR)
    record_change(
        show=result.show_class.show,
        actor=by,
        at=at,
        verb="set the hour of release",
        subject=f"result {result}",
        before={"due": before.isoformat()} if before else None,
        after={"due": due.isoformat()},
    )
    return result


def _demand_hour(due: datetime, at: datetime) -> None:
    if due <= at:
        raise InvalidInput(
            _("That hour has passed. Release the result by hand, or set a later hour."),
            fields={"due": _("Later than now, please.")},
        )
    if due > at + FURTHEST:
        raise InvalidInput(
            _("That hour is more than a year from now."),
            fields={"due": _("Within a year, please.")},
        )
    if never := reason_against_hour(due):
        raise InvalidInput(never, fields={"due": _("A time the clock shows, please.")})


@transaction.atomic
def cancel_release_hour(*, result: Result, by: Person, at: datetime) -> Result:
    """Take the hour back; the result waits for somebody to release it."""
    result = _locked(result.pk)
    if result.released_at:
        raise Conflict(_("This result is released already."))
    before = result.release_due_at
    if before is None:
        return result
    _strike(result)
    record_change(
        show=result.show_class.show,
        actor=by,
        at=at,
        verb="cancelled the hour of release",
        subject=f"result {result}",
        before={"due": before.isoformat()},
    )
    return result


def release_due(*, at: datetime, show: Show | None = None) -> list[Result]:
    """Release what is due, in one show or in all; asked twice, the second finds nothing."""
    tried = (_release_one(result_id, at) for result_id in due_results(at=at, show=show))
    return [result for result in tried if result]


@transaction.atomic
def _release_one(result_id: int, at: datetime) -> Result | None:
    result = _locked(result_id)
    due, by = result.release_due_at, result.release_due_by
    if result.released_at or due is None or by is None or due > at:
        return None  # somebody was quicker: released, cancelled, or set to a later hour
    try:
        # A refusal goes into the record, which says it alike whoever asked.
        with transaction.atomic(), in_english():
            return release_result(result=result, by=by, at=at)
    except ShowError as fault:
        why = fault.detail
    _strike(result)
    record_change(
        show=result.show_class.show,
        actor=None,
        at=at,
        verb=STOPPED,
        subject=f"result {result}",
        before={"due": due.isoformat()},
        after={"class": result.show_class_id, "version": result.version},
        reason=why,
    )
    return None


def _strike(result: Result) -> None:
    result.release_due_at = result.release_due_by = None
    result.save(update_fields=_HOUR)
