"""Food rounds as the office, the turn-in desk and the key holder look at them.

What the office reads before the key is opened never joins a code to a wagon: `tables_of` gives
codes, `desk_of` gives wagons, and no moment, order or number is in both.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import QuerySet

from entries.models import Entry
from judging.models import (
    Conflict,
    Dish,
    FoodFigures,
    FoodRound,
    Judge,
    TablePlace,
    TemperatureReading,
)
from judging.rules.food.advice import say_limit, say_tables
from judging.rules.food.temperatures import EDITION, Figure, figures_of
from showrun.errors import NotAllowed, NotFound
from showrun.language import gettext as _
from showrun.shows.models import Person, RoleHeld, Show
from showrun.shows.queries import Visitor, demand, roles_of
from showrun.shows.rules.access import KEEP_NO_KEY, Deed, Role


@dataclass(frozen=True)
class Table:
    """What one judge tastes, the first code first."""

    judge: Judge
    codes: tuple[str, ...]


@dataclass(frozen=True)
class FoodView:
    """A round with its tables and what they are worth."""

    round: FoodRound
    judges: list[Judge]
    wagons: int
    tables: list[Table]
    advice: str
    came: int

    @property
    def dishes(self) -> int:
        """How many dishes are on the tables."""
        return len({code for table in self.tables for code in table.codes})

    @property
    def positions(self) -> range:
        """The places of a table, from 1."""
        return range(1, max((len(table.codes) for table in self.tables), default=0) + 1)


def rounds_of(show: Show) -> QuerySet[FoodRound]:
    """Return the food rounds of a show, the first turned in first."""
    return FoodRound.objects.filter(show=show).select_related("show_class")


def round_of(show: Show, round_id: int) -> FoodRound:
    """Return one round of this show, or say there is none."""
    found = rounds_of(show).filter(pk=round_id).first()
    if found is None:
        raise NotFound(_("There is no such food round in this show."))
    found.show = show
    return found


def judges_at(food: FoodRound) -> list[Judge]:
    """Return the judges of the round who are still here, by their short names."""
    here = food.judges.filter(left_at__isnull=True)
    return list(here.select_related("person").order_by("code"))


def wagons_of(food: FoodRound) -> list[Entry]:
    """Return the confirmed wagons of the round's class, by their numbers."""
    confirmed = Entry.objects.confirmed().filter(show=food.show_id)
    return list(confirmed.filter(classes__show_class=food.show_class_id).order_by("number"))


def tables_of(food: FoodRound) -> list[Table]:
    """Return who tastes which codes in which order, by judges' short names."""
    places = TablePlace.objects.filter(round=food).select_related("judge__person", "dish")
    found: dict[int, tuple[Judge, list[str]]] = {}
    for place in places.order_by("judge__code", "position"):
        found.setdefault(place.judge_id, (place.judge, []))[1].append(place.dish.code)
    return [Table(judge, tuple(codes)) for judge, codes in found.values()]


def view_of_round(food: FoodRound) -> FoodView:
    """Return the round as the office sees it; no wagon is tied to a code in it."""
    tables, judges = tables_of(food), judges_at(food)
    wagons = len(wagons_of(food))
    if tables:
        advice = say_tables([table.codes for table in tables])
    else:
        advice = say_limit(wagons, len(judges), food.palate_limit)
    return FoodView(
        round=food,
        judges=judges,
        wagons=wagons,
        tables=tables,
        advice=advice,
        came=Dish.objects.filter(round=food, came_at__isnull=False).count(),
    )


def telling_gaps(view: FoodView) -> list[str]:
    """Name judges whose table gives a wagon away by what it leaves out.

    Who tastes all codes but as many as they have conflicts leaves out just those wagons.
    """
    codes = {code for table in view.tables for code in table.codes}
    of = [table.judge for table in view.tables]
    entries = [entry.pk for entry in wagons_of(view.round)]
    barred: dict[int, int] = {}
    for judge_id in Conflict.objects.filter(judge__in=of, entry__in=entries).values_list(
        "judge_id", flat=True
    ):
        barred[judge_id] = barred.get(judge_id, 0) + 1
    return [
        table.judge.code
        for table in view.tables
        if barred.get(table.judge.pk, 0) and len(codes) - len(table.codes) <= barred[table.judge.pk]
    ]


def desk_of(food: FoodRound) -> list[Dish]:
    """Return the dishes by wagon number, for the turn-in desk; it shows no code."""
    dishes = Dish.objects.filter(round=food).select_related("entry", "taken_by")
    return list(dishes.order_by("entry__number"))


def key_of(food: FoodRound) -> list[Dish]:
    """Return the dishes by code with their wagons: the key."""
    return list(Dish.objects.filter(round=food).select_related("entry").order_by("code"))


def key_holders(show: Show) -> list[Person]:
    """Return who holds the key of the show; one person, or nobody."""
    held = RoleHeld.objects.filter(show=show, role=Role.KEY_HOLDER.value).select_related("person")
    return [one.person for one in held.order_by("id")]


def shows_with_key(person: Visitor) -> list[Show]:
    """Return the shows whose key the person holds, newest first."""
    if not isinstance(person, Person):
        return []
    held = Show.objects.filter(roles__person=person, roles__role=Role.KEY_HOLDER.value)
    return list(held.distinct())


def why_not_key(show: Show, person: Person) -> str:
    """Say why this person must not hold the key of the show, "" where nothing is against it."""
    if roles_of(person, show) & KEEP_NO_KEY:
        return _("Whoever runs the office, signs results or judges cannot hold the key too.")
    if Judge.objects.filter(show=show, person=person).exists():
        return _("A judge cannot hold the key.")
    if Entry.objects.filter(show=show, exhibitor=person).exists():
        return _("An exhibitor of this show cannot hold the key.")
    return ""


def demand_key(visitor: Visitor, show: Show) -> None:
    """Let the key holder pass, and nobody who has another part that must not know."""
    demand(visitor, Deed.KEEP_KEY, show)
    assert isinstance(visitor, Person)
    against = why_not_key(show, visitor)
    if against:
        raise NotAllowed(against)


@dataclass(frozen=True)
class FoodBook:
    """The temperature figures of a show, and where they are from."""

    figures: Mapping[str, Figure]
    edition: str
    authority: str
    changed: frozenset[str]


def food_book(show: Show) -> FoodBook:
    """Return the figures that hold at the show."""
    kept = FoodFigures.objects.filter(show=show).first()
    if kept is None:
        return FoodBook(figures_of({}), EDITION, "", frozenset())
    changed = {code: Decimal(value) for code, value in kept.changed.items()}
    return FoodBook(figures_of(changed), kept.edition, kept.authority, frozenset(changed))


def readings_of(show: Show) -> QuerySet[TemperatureReading]:
    """Return the temperature log, newest first."""
    lines = TemperatureReading.objects.filter(show=show)
    return lines.select_related("entry", "read_by", "corrects", "corrected_by")
