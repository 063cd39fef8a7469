"""Change what a planned show says of itself: its name and days, its classes, who is in which."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Set
from datetime import date, datetime

from django.db import transaction

from entries.models import EntryClass
from judging.actions.open_window import set_hours
from judging.models import ClassCard
from judging.queries.class_standing import ClassLine, class_lines, classes_of, wagons_there
from judging.queries.practice import judging_begun
from judging.queries.window import window_of
from judging.rules.cards.class_changes import (
    ClassChange,
    ClassStanding,
    reason_against_class_change,
)
from showrun.errors import Conflict, InvalidInput, NotFound
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show, ShowClass
from showrun.shows.rules.planning import MOST_CLASSES, classes_in, fault_of_days

MOST_PLACES = 100
LONGEST_NAME, LONGEST_GROUND, LONGEST_DESCRIPTION = 120, 160, 600  # letters


@transaction.atomic
def change_show(
    *,
    show: Show,
    name: str,
    ground: str,
    starts_on: date,
    ends_on: date,
    judged_on: date,
    by: Person,
    at: datetime,
) -> Show:
    """Change the show's name, ground and days; judging keeps its hour on another day."""
    show = _held(show)
    if faults := fault_of_days(starts_on, ends_on, judged_on):
        raise InvalidInput(" ".join(faults.values()), fields=faults)
    opens_at = show.judging_starts_at.astimezone(show.tz)
    moves = judged_on != opens_at.date()
    window = window_of(show)
    if moves and window and window.published_at:
        words = _("The times are published; withdraw them before judging is on another day.")
        raise Conflict(words, fields={"judged_on": words})
    wanted = {"name": name, "ground": ground, "starts_on": starts_on, "ends_on": ends_on}
    before = {key: getattr(show, key) for key in wanted}
    changed = [key for key in wanted if before[key] != wanted[key]]
    for key in changed:
        setattr(show, key, wanted[key])
    if changed:
        show.save(update_fields=changed)
        record_change(
            show=show,
            actor=by,
            at=at,
            verb="changed",
            subject="the show",
            before={key: str(before[key]) for key in changed},
            after={key: str(wanted[key]) for key in changed},
        )
    if moves:
        moved = datetime.combine(judged_on, opens_at.time(), show.tz)
        set_hours(show=show, opens_at=moved, minutes=show.judging_minutes, by=by, at=at)
    return show


@transaction.atomic
def add_class(
    *, show: Show, name: str, description: str, places: int, by: Person, at: datetime
) -> ShowClass:
    """Add a class after those there are; it is declared and entered like any other."""
    show = _held(show)
    _demand(ClassChange.ADD, ClassStanding(judging_begun=judging_begun(show)))
    there = list(show.classes.all())
    if len(there) >= MOST_CLASSES:
        raise Conflict(_("A show has at most {n} classes.").format(n=MOST_CLASSES))
    _demand_new_name(name, there)
    (line,) = classes_in([name], taken={one.code for one in there})
    made = ShowClass.objects.create(
        show=show,
        code=line["code"],
        name=name,
        description=description,
        places_awarded=places,
        position=max((one.position for one in there), default=-1) + 1,
    )
    _note(made, "added", None, _said(made), by=by, at=at)
    return made


@transaction.atomic
def change_class(
    *, show: Show, class_id: int, name: str, description: str, places: int, by: Person, at: datetime
) -> ShowClass:
    """Change a class's name, what is said of it, and how many of its places get an award."""
    line = _line(_held(show), class_id)
    found, before = line.show_class, _said(line.show_class)
    if name != found.name:
        _demand(ClassChange.NAME, line.standing, "name")
        _demand_new_name(name, show.classes.exclude(pk=found.pk))
    if places != found.places_awarded:
        _demand(ClassChange.AWARDS, line.standing, "places")
    found.name, found.description, found.places_awarded = name, description, places
    if before != _said(found):
        found.save(update_fields=["name", "description", "places_awarded"])
        _note(found, "changed", before, _said(found), by=by, at=at)
    return found


@transaction.atomic
def remove_class(*, show: Show, class_id: int, by: Person, at: datetime) -> None:
    """Take away a class nobody has entered and nothing names."""
    line = _line(_held(show), class_id)
    _demand(ClassChange.REMOVE, line.standing)
    ClassCard.objects.filter(show_class=line.show_class).delete()
    _note(line.show_class, "removed", _said(line.show_class), None, by=by, at=at)
    line.show_class.delete()


@transaction.atomic
def place_wagons(
    *, show: Show, wanted: Mapping[int, Set[int]], by: Person, at: datetime
) -> list[str]:
    """Put wagons into classes; return the names of those that changed.

    `wanted` gives by entry the keys of all classes it is to be in; who is not named stays.
    """
    show = _held(show)
    names = dict(show.classes.values_list("pk", "name"))
    entries = {entry.pk: entry for entry in wagons_there(show)}
    before = classes_of(entries.values())
    changed = {key: set(new) for key, new in wanted.items() if before.get(key) != set(new)}
    if changed:
        _demand(ClassChange.WAGONS, ClassStanding(judging_begun=judging_begun(show)))
    for key, new in changed.items():
        if key not in entries or not new <= names.keys():
            raise NotFound(_("There is no such wagon or class in this show."))
        if not new:
            raise InvalidInput(
                _("{wagon} would be in no class. Scratch it if it leaves the show.").format(
                    wagon=entries[key]
                )
            )
    for key, new in changed.items():
        entry = entries[key]
        entry.classes.exclude(show_class__in=new).delete()
        EntryClass.objects.bulk_create(
            EntryClass(entry=entry, show_class_id=one) for one in sorted(new - before[key])
        )
        record_change(
            show=show,
            actor=by,
            at=at,
            verb="changed classes",
            subject=f"entry {entry.wagon_name}",
            before=[names[one] for one in names if one in before[key]],
            after=[names[one] for one in names if one in new],
        )
    return [entries[key].wagon_name for key in changed]


def _held(show: Show) -> Show:
    return Show.objects.select_for_update().get(pk=show.pk)


def _line(show: Show, class_id: int) -> ClassLine:
    for line in class_lines(show):
        if line.show_class.pk == class_id:
            return line
    raise NotFound(_("There is no such class in this show."))


def _demand(change: ClassChange, standing: ClassStanding, field: str = "") -> None:
    if against := reason_against_class_change(change, standing):
        raise Conflict(against, fields={field: against} if field else {})


def _demand_new_name(name: str, others: Iterable[ShowClass]) -> None:
    if name.casefold() in {one.name.casefold() for one in others}:
        words = _("There is a class of that name.")
        raise InvalidInput(words, fields={"name": words})


def _said(one: ShowClass) -> dict[str, object]:
    return {
        "name": one.name,
        "description": one.description,
        "places_awarded": one.places_awarded,
    }


def _note(
    one: ShowClass, verb: str, before: object, after: object, *, by: Person, at: datetime
) -> None:
    record_change(
        show=one.show,
        actor=by,
        at=at,
        verb=verb,
        subject=f"class {one.name}",
        before=before,
        after=after,
    )
