"""The camp as the office and exhibitors see it: spots, zones, who camps where, what to mend."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.db.models import QuerySet

from entries.models import CampSpot, CampZone, Entry
from entries.rules.camp_drawing import CampDrawing, draw_camp
from entries.rules.camp_plan import CampWarning, Place, Zone, warnings
from showrun.shows.models import Show


@dataclass(frozen=True)
class CampLine:
    """A spot with whoever camps there."""

    spot: CampSpot
    entry: Entry | None


@dataclass(frozen=True)
class CampPlan:
    """The whole camp; without a spot or a zone there is nothing to draw."""

    lines: tuple[CampLine, ...]
    zones: tuple[CampZone, ...]
    drawing: CampDrawing | None
    warnings: tuple[CampWarning, ...]

    @property
    def free(self) -> int:
        """How many spots nobody has been given."""
        return sum(line.entry is None for line in self.lines)


def confirmed_entries(show: Show) -> QuerySet[Entry]:
    """Return the wagons that camp, by number."""
    entries = Entry.objects.confirmed().filter(show=show)
    return entries.select_related("spot", "exhibitor").order_by("number")


def camp_of(show: Show) -> CampPlan:
    """Return the camp with its drawing and what should be looked over."""
    spots = list(CampSpot.objects.filter(show=show))
    zones = list(CampZone.objects.filter(show=show))
    by_spot = {entry.spot_id: entry for entry in confirmed_entries(show) if entry.spot_id}
    places = _places(spots, by_spot)
    ground = [_zone(zone) for zone in zones]
    gate = (show.gate_x_ft, show.gate_y_ft)
    return CampPlan(
        lines=tuple(CampLine(spot, by_spot.get(spot.pk)) for spot in spots),
        zones=tuple(zones),
        drawing=draw_camp(places, ground, gate) if places or ground else None,
        warnings=warnings(places, ground),
    )


def _places(spots: Iterable[CampSpot], by_spot: Mapping[int, Entry]) -> list[Place]:
    places = []
    for spot in spots:
        entry = by_spot.get(spot.pk)
        places.append(
            Place(
                number=spot.number,
                x=spot.x_ft,
                y=spot.y_ft,
                frontage=spot.frontage_ft,
                depth=spot.depth_ft,
                wagon=entry.wagon_name if entry else "",
                asked_frontage=entry.frontage_ft if entry else None,
                asked_depth=entry.depth_ft if entry else None,
            )
        )
    return places


def _zone(zone: CampZone) -> Zone:
    return Zone(zone.kind, zone.name, zone.x_ft, zone.y_ft, zone.width_ft, zone.depth_ft)
