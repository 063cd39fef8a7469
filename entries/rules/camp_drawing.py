"""The camp plan as shapes: what stands where on the drawing, north at the top, in feet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from entries.rules.camp_plan import ZONE_WORDS, Place, Plot, Zone, footprint
from showrun.language import gettext as _

MARGIN_FT = 25.0
# A letter is about so wide as a part of its height, so that names end inside their spot.
LETTER_SHARE = 0.56
NUMBER_FT, NAME_FT = 15.0, 6.0
SCALE_FT = 50


@dataclass(frozen=True)
class SpotShape:
    """One spot on the drawing; x, y are its front's middle as typed, the rest is drawn."""

    number: int
    name: str
    title: str
    x: float
    y: float
    left: float
    top: float
    width: float
    height: float
    right: float
    middle: float
    number_y: float
    name_y: float
    front_y: float


@dataclass(frozen=True)
class ZoneShape:
    """One zone on the drawing, its label as written on it."""

    kind: str
    label: str
    title: str
    left: float
    top: float
    width: float
    height: float
    middle: float
    label_y: float
    upright: bool = False


@dataclass(frozen=True)
class CampDrawing:
    """The whole plan; `left` and `top` begin the box of the drawing."""

    left: float
    top: float
    width: float
    height: float
    spots: tuple[SpotShape, ...]
    zones: tuple[ZoneShape, ...]
    gate_x: float
    gate_y: float
    scale_ft: int = SCALE_FT

    @property
    def scale_left(self) -> float:
        """Where the scale bar begins."""
        return self.left + 8

    @property
    def scale_right(self) -> float:
        """Where the scale bar ends."""
        return self.scale_left + self.scale_ft

    @property
    def scale_y(self) -> float:
        """How deep the scale bar lies."""
        return self.top + self.height - 8


def draw_camp(
    places: Sequence[Place], zones: Sequence[Zone], gate: tuple[float, float]
) -> CampDrawing:
    """Lay the plan out with north at the top and everything on it.

    Parameters
    ----------
    places : sequence of Place
        The spots.
    zones : sequence of Zone
        The zones; larger ones are drawn first, so that none hides another.
    gate : (x, y) [ft]
        Where judges set off.

    Returns
    -------
    CampDrawing
        In feet; y grows downward, as drawings have it.

    Source
    ------
    Common practice, no source: a plan has north at the top, a scale, and words on every area.

    Examples
    --------
    >>> drawn = draw_camp([Place(1, 25, 0, 50, 40, "Tin Sparrow")], [], (0, 20))
    >>> drawn.left, drawn.top, drawn.width, drawn.height
    (-25.0, -45.0, 100.0, 110.0)
    >>> drawn.spots[0].name
    'Tin Sparrow'
    """
    plots = [footprint(place, places, zones) for place in places]
    every = [*plots, *(zone.plot for zone in zones), Plot(gate[0], gate[1], gate[0], gate[1])]
    west, east = min(p.west for p in every), max(p.east for p in every)
    south, north = min(p.south for p in every), max(p.north for p in every)
    larger_first = sorted(zones, key=lambda zone: (-zone.width * zone.depth, zone.name))
    return CampDrawing(
        left=west - MARGIN_FT,
        top=-north - MARGIN_FT,
        width=east - west + 2 * MARGIN_FT,
        height=north - south + 2 * MARGIN_FT,
        spots=tuple(_spot(p, plot) for p, plot in zip(places, plots, strict=True)),
        zones=tuple(_zone(zone) for zone in larger_first),
        gate_x=gate[0],
        gate_y=-gate[1],
    )


def _spot(place: Place, plot: Plot) -> SpotShape:
    top, height = -plot.north, plot.north - plot.south
    front = -place.y
    return SpotShape(
        number=place.number,
        name=_cut(place.wagon, plot.east - plot.west, NAME_FT),
        title=_("Camp spot {number}: {wagon}").format(number=place.number, wagon=place.wagon)
        if place.wagon
        else _("Camp spot {number}: free").format(number=place.number),
        x=place.x,
        y=place.y,
        left=plot.west,
        top=top,
        width=plot.east - plot.west,
        height=height,
        right=plot.east,
        middle=place.x,
        number_y=top + height / 2 + NUMBER_FT * 0.2,
        name_y=top + height / 2 + NUMBER_FT * 0.2 + NAME_FT * 1.5,
        front_y=front,
    )


def _zone(zone: Zone) -> ZoneShape:
    plot = zone.plot
    words = _(ZONE_WORDS[zone.kind])
    plain = zone.kind == "other" or words in zone.name.lower()
    said = zone.name if plain else f"{zone.name}, {words}"
    upright = zone.depth > zone.width
    return ZoneShape(
        kind=zone.kind,
        label=_cut(said, max(zone.width, zone.depth, 40.0), NAME_FT),
        title=f"{zone.name}: {words}",
        left=plot.west,
        top=-plot.north,
        width=zone.width,
        height=zone.depth,
        middle=(plot.west + plot.east) / 2,
        label_y=-(plot.north + plot.south) / 2,
        upright=upright,
    )


def _cut(words: str, width: float, size: float) -> str:
    """Cut words where they would run over their place."""
    room = max(3, int(width * 0.94 / (size * LETTER_SHARE)))
    return words if len(words) <= room else f"{words[: room - 1].rstrip()}…"
