"""Set up a food round, name who holds its key, close its marks, open the key."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db import transaction

from judging.models import Dish, FoodRound, Judge
from judging.queries.food import key_of, why_not_key
from judging.rules.food.turn_in import LateRule
from showrun.errors import Conflict, InvalidInput, NotYet
from showrun.language import gettext as _
from showrun.shows.actions.plan_show import give_role, person_for
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, RoleHeld, Show, ShowClass
from showrun.shows.rules.access import Role

LONGEST_DISH = 60
LONGEST_REASON = 200
LONGEST_MINUTES = 120


@transaction.atomic
def set_up_food(
    *,
    show: Show,
    show_class: ShowClass,
    dish: str,
    posted_at: datetime,
    palate_limit: int,
    judges: Sequence[Judge],
    window_minutes: int,
    grace_minutes: int,
    late: str,
    by: Person,
    at: datetime,
    food: FoodRound | None = None,
) -> FoodRound:
    """Set up a round, or change one before its first dish has come.

    Other judges, another class or another palate limit undo the tables drawn.
    """
    Show.objects.select_for_update().get(pk=show.pk)
    dish = dish.strip()
    _demand_sound(show, show_class, dish, palate_limit, judges, window_minutes, grace_minutes, late)
    taken = FoodRound.objects.filter(show_class=show_class, dish__iexact=dish)
    if (taken.exclude(pk=food.pk) if food else taken).exists():
        raise Conflict(
            _("There is a round for {dish} of {show_class} already.").format(
                dish=dish, show_class=show_class
            ),
            fields={"dish": _("This class has a round of that name.")},
        )
    before = None
    if food is not None:
        food = FoodRound.objects.select_for_update().get(pk=food.pk)
        demand_nothing_came(
            food,
            over=_("This round is over and cannot be changed."),
            came=_("A dish has come already; the round cannot be changed any more."),
        )
        before = _as_kept(food)
    else:
        food = FoodRound(show=show)
    new = FoodRound(
        pk=food.pk, show=show, show_class=show_class, dish=dish, posted_at=posted_at,
        window_minutes=window_minutes, grace_minutes=grace_minutes, late=LateRule(late).value,
        palate_limit=palate_limit, seed=food.seed, drawn_at=food.drawn_at,
    )  # fmt: skip
    if before and _other_tables(food, new, judges):
        Dish.objects.filter(round=food).delete()
        new.seed, new.drawn_at = None, None
    new.save()
    new.judges.set(judges)
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="changed" if before else "set up",
        subject=f"the food round {new}",
        before=before,
        after=_as_kept(new),
    )
    return new


@transaction.atomic
def appoint_key_holder(*, show: Show, name: str, email: str, by: Person, at: datetime) -> Person:
    """Let one person, and nobody else, hold the key of the show's food rounds."""
    Show.objects.select_for_update().get(pk=show.pk)
    person = person_for(email=email, name=name)
    against = why_not_key(show, person)
    if against:
        raise InvalidInput(against, fields={"email": against})
    before = list(
        RoleHeld.objects.filter(show=show, role=Role.KEY_HOLDER.value).values_list(
            "person__name", flat=True
        )
    )
    RoleHeld.objects.filter(show=show, role=Role.KEY_HOLDER.value).delete()
    give_role(show=show, person=person, role=Role.KEY_HOLDER)
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="appointed",
        subject="the key holder",
        before=before or None,
        after=[person.name],
    )
    return person


@transaction.atomic
def close_food_marks(*, food: FoodRound, by: Person, at: datetime) -> FoodRound:
    """Say that no mark of this round changes any more; the key may be opened after it."""
    food = FoodRound.objects.select_for_update().get(pk=food.pk)
    if food.drawn_at is None:
        raise NotYet(_("The tables of this round are not drawn yet."))
    if food.marks_closed_at is not None:
        raise Conflict(_("The marks of this round are closed already."))
    if not Dish.objects.filter(round=food, came_at__isnull=False).exists():
        raise NotYet(_("No dish of this round has come yet."))
    food.marks_closed_at = at
    food.save(update_fields=["marks_closed_at"])
    record_change(show=food.show, actor=by, at=at, verb="closed marks of", subject=_named(food))
    return food


@transaction.atomic
def open_key(*, food: FoodRound, reason: str, by: Person, at: datetime) -> FoodRound:
    """Hand the key over: from now on the office sees which wagon a code stands for.

    Before the marks are closed it takes a reason. The key goes into the record with it.
    """
    food = FoodRound.objects.select_for_update().get(pk=food.pk)
    reason = reason.strip()[:LONGEST_REASON]
    if food.drawn_at is None:
        raise NotYet(_("There is no key yet: the tables are not drawn."))
    if food.revealed_at is not None:
        raise Conflict(_("The key of this round is open already."))
    if food.marks_closed_at is None and not reason:
        raise NotYet(
            _("The marks are not closed yet. Wait for it, or say why the key is opened before."),
            fields={"reason": _("Say why the key is opened before the marks are closed.")},
        )
    food.revealed_at, food.revealed_by = at, by
    food.save(update_fields=["revealed_at", "revealed_by"])
    record_change(
        show=food.show,
        actor=by,
        at=at,
        verb="opened the key of",
        subject=_named(food),
        after={
            "seed": food.seed,
            "key": {dish.code: str(dish.entry) for dish in key_of(food)},
            "marks_closed": food.marks_closed_at is not None,
        },
        reason=reason,
    )
    return food


def demand_nothing_came(food: FoodRound, *, over: str, came: str) -> None:
    """Refuse what would upset a round whose dishes are on their way."""
    if food.revealed_at is not None or food.marks_closed_at is not None:
        raise Conflict(over)
    if Dish.objects.filter(round=food, came_at__isnull=False).exists():
        raise Conflict(came)


def _demand_sound(
    show: Show,
    show_class: ShowClass,
    dish: str,
    palate_limit: int,
    judges: Sequence[Judge],
    window_minutes: int,
    grace_minutes: int,
    late: str,
) -> None:
    faults: dict[str, str] = {}
    if not dish:
        faults["dish"] = _("Which dish, please?")
    elif len(dish) > LONGEST_DISH:
        faults["dish"] = _("At most {longest} letters, please.").format(longest=LONGEST_DISH)
    if show_class.show_id != show.pk:
        faults["show_class"] = _("That class is in another show.")
    if palate_limit < 1:
        faults["palate_limit"] = _("One dish at least, please.")
    if not judges or any(one.show_id != show.pk or one.left_at for one in judges):
        faults["judges"] = _("Choose the judges at the table, of those who are here.")
    for name, minutes in (("window_minutes", window_minutes), ("grace_minutes", grace_minutes)):
        if not 0 <= minutes <= LONGEST_MINUTES:
            faults[name] = _("From 0 to {longest} minutes, please.").format(longest=LONGEST_MINUTES)
    if late not in set(LateRule):
        faults["late"] = _("Choose what is done with a late dish.")
    if faults:
        raise InvalidInput(_("The round is not set up yet: see the marked fields."), fields=faults)


def _other_tables(old: FoodRound, new: FoodRound, judges: Sequence[Judge]) -> bool:
    there = set(old.judges.values_list("pk", flat=True))
    same = (old.show_class_id, old.palate_limit) == (new.show_class_id, new.palate_limit)
    return not same or there != {judge.pk for judge in judges}


def _as_kept(food: FoodRound) -> dict[str, Any]:
    """Return what the record may know: never seed, code or key."""
    return {
        "dish": food.dish,
        "class": food.show_class.name,
        "posted_at": food.posted_at.isoformat(),
        "window_minutes": food.window_minutes,
        "grace_minutes": food.grace_minutes,
        "late": str(food.late),
        "palate_limit": food.palate_limit,
        "judges": sorted(food.judges.values_list("code", flat=True)),
    }


def _named(food: FoodRound) -> str:
    return f"the food round {food}"
