"""Mark ground nobody camps on: add, change and remove zones of the camp plan."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import transaction

from entries.actions.move_spots import FARTHEST_FT
from entries.models import CampZone
from showrun.errors import Conflict, InvalidInput
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show

FIELDS = ("kind", "name", "x_ft", "y_ft", "width_ft", "depth_ft")
MOST_ZONES = 60


@dataclass(frozen=True)
class ZoneChange:
    """What is to become of a zone: the values that change; a new one has no id and has all."""

    id: int | None
    values: Mapping[str, Any]
    remove: bool = False


@transaction.atomic
def mark_zones(
    *, show: Show, changes: Iterable[ZoneChange], by: Person, at: datetime
) -> list[CampZone]:
    """Take the changes as a whole, or none of them; returns the zones added or changed."""
    show = Show.objects.select_for_update().get(pk=show.pk)
    there = {zone.pk: zone for zone in CampZone.objects.filter(show=show)}
    before, changed, gone = [], [], []
    for change in changes:
        zone = CampZone(show=show) if change.id is None else there.get(change.id)
        if zone is None:
            raise Conflict(_("A zone of this plan is gone meanwhile; load the page again."))
        if zone.pk:
            before.append(_as_line(zone))
        if change.remove:
            gone.append(zone)
            continue
        for field, value in change.values.items():
            setattr(zone, field, value.strip() if isinstance(value, str) else value)
        changed.append(zone)
    kept = [zone for zone in there.values() if zone not in gone and zone not in changed]
    _demand_sound(kept, changed)
    CampZone.objects.filter(pk__in=[zone.pk for zone in gone]).delete()
    for zone in changed:
        zone.save()
    if changed or gone:
        record_change(
            show=show,
            actor=by,
            at=at,
            verb="changed",
            subject="the zones of the camp",
            before=before,
            after=[_as_line(zone) for zone in changed],
        )
    return changed


def _demand_sound(kept: Iterable[CampZone], changed: Iterable[CampZone]) -> None:
    names = {zone.name.casefold() for zone in kept}
    for zone in changed:
        if not zone.name:
            raise InvalidInput(_("A zone needs a name, such as North lane."))
        if zone.name.casefold() in names:
            raise InvalidInput(_("Two zones would have the name {name}.").format(name=zone.name))
        names.add(zone.name.casefold())
        if zone.kind not in CampZone.Kind.values:
            raise InvalidInput(_("Choose what {name} is.").format(name=zone.name))
        if not all(abs(where) <= FARTHEST_FT for where in (zone.x_ft, zone.y_ft)):
            raise InvalidInput(
                _("{name} is too far away: at most {most} ft.").format(
                    name=zone.name, most=FARTHEST_FT
                )
            )
        if not all(0 < side <= FARTHEST_FT for side in (zone.width_ft, zone.depth_ft)):
            raise InvalidInput(
                _("{name} needs a width and a depth above zero.").format(name=zone.name)
            )
    if len(names) > MOST_ZONES:
        raise InvalidInput(_("A camp has {most} zones at most.").format(most=MOST_ZONES))


def _as_line(zone: CampZone) -> dict[str, Any]:
    return {field: getattr(zone, field) for field in FIELDS}
