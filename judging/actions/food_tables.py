"""Draw a food round: codes for the wagons, tables for the judges, an order for each."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from entries.models import Entry
from judging.actions.food_rounds import demand_nothing_came
from judging.models import Conflict, Dish, FoodRound, Judge, TablePlace
from judging.queries.food import judges_at, wagons_of
from judging.rules.food.draw import FoodDraw, draw_round
from judging.rules.panels.tables import efficiency
from showrun.errors import InvalidInput, NotYet
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show


@transaction.atomic
def draw_food(*, food: FoodRound, seed: int, by: Person, at: datetime) -> FoodRound:
    """Draw codes and tables anew, as long as no dish has come.

    Whoever knows `seed` can draw the key again, so it comes from chance, is shown to the key
    holder alone, and enters the record when the key is opened.
    """
    Show.objects.select_for_update().get(pk=food.show_id)
    food = FoodRound.objects.select_for_update().select_related("show").get(pk=food.pk)
    demand_nothing_came(
        food,
        over=_("This round is over and cannot be drawn."),
        came=_("A dish has come already; the round cannot be drawn any more."),
    )
    judges, wagons = judges_at(food), wagons_of(food)
    _demand_enough(judges, wagons)
    each = min(food.palate_limit, len(wagons))
    barred = _barred(judges, wagons, each)
    others = Dish.objects.filter(round__show=food.show_id).exclude(round=food)
    try:
        drawn = draw_round(
            len(wagons),
            len(judges),
            each,
            seed=seed,
            barred=barred,
            taken=sorted(set(others.values_list("code", flat=True))),
        )
    except ValueError as fault:
        words = str(fault)
        raise InvalidInput(f"{words[:1].upper()}{words[1:]}.", code="no-tables") from fault
    _write(food, judges, wagons, drawn)
    again = food.drawn_at is not None
    food.seed, food.drawn_at = seed, at
    food.save(update_fields=["seed", "drawn_at"])
    record_change(
        show=food.show,
        actor=by,
        at=at,
        verb="laid out again" if again else "laid out",
        subject=f"the food tables of {food}",
        after={
            "dishes": len(wagons),
            "judges": [judge.code for judge in judges],
            "each": each,
            "efficiency": round(efficiency(drawn.orders), 4),
        },
    )
    return food


def _write(
    food: FoodRound, judges: Sequence[Judge], wagons: Sequence[Entry], drawn: FoodDraw
) -> None:
    """Replace dishes and places. In the order of codes, so that no row's number tells a wagon."""
    Dish.objects.filter(round=food).delete()
    made = Dish.objects.bulk_create(
        Dish(round=food, entry=wagon, code=code)
        for code, wagon in sorted(zip(drawn.codes, wagons, strict=True), key=lambda one: one[0])
    )
    dish_of = {dish.entry_id: dish for dish in made}
    TablePlace.objects.bulk_create(
        TablePlace(round=food, judge=judge, dish=dish_of[wagons[n].pk], position=position)
        for judge, order in zip(judges, drawn.orders, strict=True)
        for position, n in enumerate(order, start=1)
    )


def _demand_enough(judges: Sequence[Judge], wagons: Sequence[Entry]) -> None:
    if not judges:
        raise NotYet(_("None of this round's judges is here any more; choose others."))
    if len(wagons) < 2:
        raise NotYet(_("Tables need two confirmed wagons of this class at least."))


def _barred(judges: Sequence[Judge], wagons: Sequence[Entry], each: int) -> list[tuple[int, int]]:
    """Return pairs (judge, wagon), both by place, that must not meet, or say who has too many."""
    place = {judge.pk: n for n, judge in enumerate(judges)}
    at = {wagon.pk: n for n, wagon in enumerate(wagons)}
    pairs = [
        (place[judge_id], at[entry_id])
        for judge_id, entry_id in Conflict.objects.filter(judge__in=judges, entry__in=wagons)
        .order_by("judge_id", "entry_id")
        .values_list("judge_id", "entry_id")
    ]
    for n, judge in enumerate(judges):
        free = len(wagons) - sum(1 for who, _unused in pairs if who == n)
        if free < each:
            raise InvalidInput(
                _(
                    "{judge} has conflicts and may taste {free} of {n} dishes, fewer than {each}. "
                    "Lower the palate limit or choose another judge."
                ).format(judge=judge, free=free, n=len(wagons), each=each),
                code="no-tables",
            )
    for n, wagon in enumerate(wagons):
        if sum(1 for _unused, which in pairs if which == n) == len(judges):
            raise InvalidInput(
                _("Every judge has a conflict with wagon {number}. Choose another judge.").format(
                    number=wagon.number
                ),
                code="no-tables",
            )
    return pairs
