"""Take a dish in at the turn-in table, or take that back."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from judging.models import Dish, FoodRound
from judging.rules.food.turn_in import Standing, TurnIn, judge_turn_in
from showrun.errors import Conflict, InvalidInput, NotYet
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person

LONGEST_REASON = 200


@transaction.atomic
def take_dish(*, dish: Dish, by: Person, at: datetime) -> TurnIn:
    """Write down that a wagon's dish is on the table now, and what the late rule says to it.

    The record names the wagon and never the code.
    """
    food, dish = _locked(dish)
    if dish.came_at is not None:
        raise Conflict(
            _("The dish of wagon {number} is written down already.").format(
                number=dish.entry.number
            )
        )
    said = judge_turn_in(food.posted_at, at, food.rule)
    if said.standing is Standing.EARLY:
        raise NotYet(_("Wagon {number}: {why}").format(number=dish.entry.number, why=said.sentence))
    dish.standing, dish.came_at, dish.late_s = said.standing.value, at, said.late_s
    dish.taken_by = by
    dish.save(update_fields=["standing", "came_at", "late_s", "taken_by"])
    _record(food, dish, "took in" if said.taken else "refused", after=_as_kept(dish), by=by, at=at)
    return said


@transaction.atomic
def take_back(*, dish: Dish, reason: str, by: Person, at: datetime) -> Dish:
    """Undo a touch at the turn-in table, with a reason; the dish counts as not come yet."""
    food, dish = _locked(dish)
    reason = reason.strip()
    if not reason:
        raise InvalidInput(
            _("Say why the turn-in is taken back."),
            fields={"reason": _("Say why, for the record.")},
        )
    if len(reason) > LONGEST_REASON:
        raise InvalidInput(
            _("The reason is too long."),
            fields={"reason": _("At most {longest} letters.").format(longest=LONGEST_REASON)},
        )
    if dish.came_at is None:
        raise Conflict(
            _("The dish of wagon {number} is not written down.").format(number=dish.entry.number)
        )
    before = _as_kept(dish)
    dish.standing, dish.came_at, dish.late_s, dish.taken_by = "", None, None, None
    dish.save(update_fields=["standing", "came_at", "late_s", "taken_by"])
    _record(food, dish, "took back", before=before, by=by, at=at, reason=reason)
    return dish


def _locked(dish: Dish) -> tuple[FoodRound, Dish]:
    food = FoodRound.objects.select_for_update().get(pk=dish.round_id)
    if food.marks_closed_at is not None or food.revealed_at is not None:
        raise Conflict(_("This round is over; its turn-in table is closed."))
    return food, Dish.objects.select_related("entry").get(pk=dish.pk)


def _as_kept(dish: Dish) -> dict[str, object]:
    assert dish.came_at is not None
    return {
        "standing": dish.standing,
        "came_at": dish.came_at.isoformat(),
        "late_s": dish.late_s,
    }


def _record(
    food: FoodRound,
    dish: Dish,
    verb: str,
    *,
    by: Person,
    at: datetime,
    before: dict[str, object] | None = None,
    after: dict[str, object] | None = None,
    reason: str = "",
) -> None:
    record_change(
        show=food.show,
        actor=by,
        at=at,
        verb=verb,
        subject=f"{food.dish} of wagon {dish.entry.number}",
        before=before,
        after=after,
        reason=reason,
    )
