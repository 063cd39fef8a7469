"""Change the camp plan: add, move, resize and remove spots, and lay out rows of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import isfinite
from typing import Any

from django.db import transaction

from entries.models import CampSpot, Entry
from entries.rules.camp_plan import rows_of_spots
from showrun.errors import Conflict, InvalidInput
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show

# Farther from the gate than any ground is wide [ft].
FARTHEST_FT = 20_000
MOST_SPOTS = 400
# Numbers wait here while two spots change theirs with each other.
ASIDE = 1_000_000
FIELDS = ("number", "x_ft", "y_ft", "frontage_ft", "depth_ft")


@dataclass(frozen=True)
class SpotChange:
    """What is to become of a spot: the values that change; a new one has no id and has all."""

    id: int | None
    values: Mapping[str, float]
    remove: bool = False


@transaction.atomic
def move_spots(
    *, show: Show, changes: Iterable[SpotChange], by: Person, at: datetime
) -> list[CampSpot]:
    """Take the changes as a whole, or none of them; returns the spots added or changed."""
    show = Show.objects.select_for_update().get(pk=show.pk)
    there = {spot.pk: spot for spot in CampSpot.objects.filter(show=show)}
    changed: list[CampSpot] = []
    gone: list[CampSpot] = []
    for change in changes:
        spot = CampSpot(show=show) if change.id is None else there.get(change.id)
        if spot is None:
            raise Conflict(_("A spot of this plan is gone meanwhile; load the page again."))
        if change.remove:
            gone.append(spot)
            continue
        for field, value in change.values.items():
            setattr(spot, field, value)
        changed.append(spot)
    before = _as_lines(CampSpot.objects.filter(pk__in=[s.pk for s in [*changed, *gone] if s.pk]))
    _demand_nobody(gone)
    _demand_sound([s for s in there.values() if s not in gone and s not in changed], changed)
    CampSpot.objects.filter(pk__in=[spot.pk for spot in gone]).delete()
    _write(changed)
    if changed or gone:
        record_change(
            show=show,
            actor=by,
            at=at,
            verb="changed",
            subject="the camp plan",
            before=before,
            after=_as_lines(changed),
        )
    return changed


def _demand_nobody(gone: Sequence[CampSpot]) -> None:
    camper = Entry.objects.filter(spot__in=gone).select_related("spot").first()
    if camper is not None and camper.spot is not None:
        raise Conflict(
            _("{camper} has camp spot {number}. Give the wagon another spot first.").format(
                camper=camper, number=camper.spot.number
            )
        )


def _demand_sound(others: Sequence[CampSpot], changed: Sequence[CampSpot]) -> None:
    numbers = {spot.number for spot in others}
    if len(others) + len(changed) > MOST_SPOTS:
        raise InvalidInput(_("A camp has {most} spots at most.").format(most=MOST_SPOTS))
    for spot in changed:
        if spot.number < 1 or spot.number >= ASIDE:
            raise InvalidInput(_("A spot needs a number from 1 up."))
        if spot.number in numbers:
            raise InvalidInput(
                _("Two spots would have number {number}.").format(number=spot.number)
            )
        numbers.add(spot.number)
        if not all(isfinite(v) and abs(v) <= FARTHEST_FT for v in (spot.x_ft, spot.y_ft)):
            raise InvalidInput(
                _("Spot {number} is too far away: at most {most} ft.").format(
                    number=spot.number, most=FARTHEST_FT
                )
            )
        if not all(0 < side <= FARTHEST_FT for side in (spot.frontage_ft, spot.depth_ft)):
            raise InvalidInput(
                _("Spot {number} needs a frontage and a depth above zero.").format(
                    number=spot.number
                )
            )


def _write(changed: Sequence[CampSpot]) -> None:
    numbers = [spot.number for spot in changed]
    for spot in changed:
        if spot.pk:
            CampSpot.objects.filter(pk=spot.pk).update(number=ASIDE + spot.pk)
    for spot, number in zip(changed, numbers, strict=True):
        spot.number = number
        spot.save()


def _as_lines(spots: Iterable[CampSpot]) -> list[dict[str, Any]]:
    return [{field: getattr(spot, field) for field in FIELDS} for spot in spots]


@transaction.atomic
def lay_out_rows(
    *,
    show: Show,
    n: int,
    x_ft: float,
    y_ft: float,
    frontage_ft: int,
    depth_ft: int,
    gap_ft: float,
    n_rows: int,
    lane_ft: float,
    by: Person,
    at: datetime,
) -> list[CampSpot]:
    """Add rows of spots of one size, numbered on from the highest number there is."""
    show = Show.objects.select_for_update().get(pk=show.pk)
    last = CampSpot.objects.filter(show=show).order_by("-number").first()
    try:
        laid = rows_of_spots(
            n=n,
            first_number=(last.number if last else 0) + 1,
            x=x_ft,
            y=y_ft,
            frontage=frontage_ft,
            depth=depth_ft,
            gap=gap_ft,
            n_rows=n_rows,
            lane=lane_ft,
        )
    except ValueError as fault:
        raise InvalidInput(str(fault)) from fault
    changes = [
        SpotChange(
            None,
            {
                "number": place.number,
                "x_ft": place.x,
                "y_ft": place.y,
                "frontage_ft": frontage_ft,
                "depth_ft": depth_ft,
            },
        )
        for place in laid
    ]
    return move_spots(show=show, changes=changes, by=by, at=at)
