"""How far each class of a show has come, and which wagons are in it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Count, Exists, F, OuterRef, QuerySet

from entries.models import Entry, EntryClass
from entries.rules.places import Status
from judging.models import ClassCard, FoodRound, Result, SeasonClass
from judging.queries.practice import judging_begun
from judging.rules.cards.class_changes import ClassStanding
from showrun.shows.models import Show, ShowClass

GONE = (Status.SCRATCHED.value, Status.PRACTICE.value)


@dataclass(frozen=True)
class ClassLine:
    """A class, how far it has come, and whether how it is judged is declared."""

    show_class: ShowClass
    standing: ClassStanding
    declared: bool


def class_lines(show: Show) -> list[ClassLine]:
    """Return the show's classes in order."""
    of_class = {"show_class": OuterRef("pk")}
    results, released = Result.objects.filter(**of_class), Result.objects.released()
    entered = EntryClass.objects.filter(**of_class).order_by().values("show_class")
    rows = show.classes.annotate(
        wagons=entered.annotate(n=Count("pk")).values("n"),
        has_result=Exists(results),
        is_released=Exists(released.filter(**of_class)),
        in_season=Exists(SeasonClass.objects.filter(**of_class)),
        has_food=Exists(FoodRound.objects.filter(**of_class)),
        is_declared=Exists(ClassCard.objects.filter(**of_class)),
    )
    begun, found = judging_begun(show), list(rows)
    return [
        ClassLine(
            row,
            ClassStanding(
                judging_begun=begun,
                released=row.is_released,
                wagons=row.wagons or 0,
                counted=row.has_result or row.in_season or row.has_food,
                last=len(found) == 1,
            ),
            declared=row.is_declared,
        )
        for row in found
    ]


def wagons_there(show: Show) -> QuerySet[Entry]:
    """Return the wagons that have left neither the show nor its wait list, with their classes."""
    there = Entry.objects.filter(show=show).exclude(status__in=GONE).prefetch_related("classes")
    return there.order_by(F("number").asc(nulls_last=True), "pk")


def classes_of(entries: Iterable[Entry]) -> dict[int, set[int]]:
    """Return by entry the keys of the classes it is in."""
    return {entry.pk: {one.show_class_id for one in entry.classes.all()} for entry in entries}
