"""What a camp plan should be looked over for: spots that overlap, block a lane or are too small.

The plan is in feet: x grows to the east, y to the north. A spot's (x, y) is the middle of its
front, a zone's is its north-west corner. Every finding is a warning; none of them is an approval.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import hypot

from showrun.language import gettext as _
from showrun.language import gettext_noop as N_

# A hair of ground two neighbors share by rounding is no overlap [ft].
HAIR_FT = 0.05
# Clear ground one campus (Stanford University) asks on two sides of a booth [ft].
CLEAR_FT = 10.0
# So many narrow gaps are named one by one.
MOST_GAPS = 6
WHO_DECIDES = N_("Local fire code and officials decide.")
PUBLIC = "public"

ZONE_WORDS = {
    "fire_lane": N_("fire lane"),
    "animals": N_("animal zone"),
    "water": N_("water"),
    PUBLIC: N_("public way"),
    "other": N_("zone"),
}


@dataclass(frozen=True)
class Place:
    """A camp spot, and the camp that the wagon on it asked for.

    Parameters
    ----------
    number : int
        The spot's number.
    x, y : float [ft]
        The middle of its front.
    frontage, depth : float [ft]
        Its size.
    wagon : str
        Who camps there, or empty.
    asked_frontage, asked_depth : float or None [ft]
        What the entry asked for; None where it did not say.
    """

    number: int
    x: float
    y: float
    frontage: float
    depth: float
    wagon: str = ""
    asked_frontage: float | None = None
    asked_depth: float | None = None


@dataclass(frozen=True)
class Zone:
    """Ground nobody camps on; (x, y) is its north-west corner [ft]."""

    kind: str
    name: str
    x: float
    y: float
    width: float
    depth: float

    @property
    def plot(self) -> Plot:
        """The ground it covers."""
        return Plot(self.x, self.y - self.depth, self.x + self.width, self.y)


@dataclass(frozen=True)
class Plot:
    """A piece of ground with sides along the axes [ft]."""

    west: float
    south: float
    east: float
    north: float

    def shared(self, other: Plot) -> tuple[float, float]:
        """Return how far the two reach into each other along x and y; negative: apart."""
        return (
            min(self.east, other.east) - max(self.west, other.west),
            min(self.north, other.north) - max(self.south, other.south),
        )

    def overlaps(self, other: Plot) -> bool:
        """Say whether they share more than a hair of ground."""
        return min(self.shared(other)) > HAIR_FT

    def gap(self, other: Plot) -> float:
        """Return the ground between them [ft], 0 where they touch or overlap."""
        along_x, along_y = self.shared(other)
        return hypot(max(0.0, -along_x), max(0.0, -along_y))


@dataclass(frozen=True)
class CampWarning:
    """One thing to look over: its kind, whom it concerns, and a sentence."""

    what: str
    spots: tuple[int, ...]
    words: str


def footprint(place: Place, places: Iterable[Place], zones: Iterable[Zone]) -> Plot:
    """Tell which ground a spot takes: behind its front, away from the way it faces.

    A camp lies south of its front. It lies north of it where a public way, or the front of a
    camp across the lane, is right to the south.

    Parameters
    ----------
    place : Place
        The spot.
    places : iterable of Place
        All spots; the spot itself may be among them.
    zones : iterable of Zone
        All zones.

    Returns
    -------
    Plot

    Source
    ------
    Common practice, no source: wagons face the public lane, rows face each other across it.

    Examples
    --------
    >>> south, north = Place(1, 25, 0, 50, 40), Place(2, 25, 40, 50, 40)
    >>> footprint(south, [south, north], [])
    Plot(west=0.0, south=-40, east=50.0, north=0)
    >>> footprint(north, [south, north], [])
    Plot(west=0.0, south=40, east=50.0, north=80)
    """
    west, east = place.x - place.frontage / 2, place.x + place.frontage / 2
    if _faces_south(place, places, zones):
        return Plot(west, place.y, east, place.y + place.depth)
    return Plot(west, place.y - place.depth, east, place.y)


def _faces_south(place: Place, places: Iterable[Place], zones: Iterable[Zone]) -> bool:
    west, east = place.x - place.frontage / 2, place.x + place.frontage / 2
    ahead = Plot(west, place.y - place.depth, east, place.y)
    for zone in zones:
        touches = abs(zone.plot.north - place.y) <= 1.0
        if zone.kind == PUBLIC and touches and zone.plot.shared(ahead)[0] > HAIR_FT:
            return True
    for other in places:
        apart = place.y - other.y
        beside = abs(place.x - other.x) >= (place.frontage + other.frontage) / 2 - HAIR_FT
        if HAIR_FT < apart <= place.depth and not beside:
            return True
    return False


def warnings(places: Sequence[Place], zones: Sequence[Zone]) -> tuple[CampWarning, ...]:
    """List what an official might object to, and camps larger than their spot.

    Parameters
    ----------
    places : sequence of Place
        The spots of the plan.
    zones : sequence of Zone
        Its fire lanes, animal zones and so on.

    Returns
    -------
    tuple of CampWarning
        Overlaps of spots first, then spots in a zone, then spots smaller than asked for, and
        narrow gaps last, all of them in one sentence.

    Source
    ------
    Common practice, no source: fire access width is set by the fire officer, who decides.
    Stanford University, festival booths (10 ft clear on two sides of a booth, on its campus).

    Examples
    --------
    >>> one = Place(1, 25, 0, 50, 40, "Tin Sparrow", asked_frontage=60)
    >>> lane = Zone("fire_lane", "North lane", -10, 10, 20, 60)
    >>> [found.words for found in warnings([one], [lane])]  # doctest: +NORMALIZE_WHITESPACE
    ['Spot 1 lies in North lane (fire lane). Local fire code and officials decide.',
     'Tin Sparrow asked for 60 ft of frontage; spot 1 has 50 ft.']
    """
    plots = {place.number: footprint(place, places, zones) for place in places}
    return (
        *_overlaps(plots),
        *_in_zones(plots, zones),
        *_too_small(places),
        *_narrow(plots),
    )


def _overlaps(plots: dict[int, Plot]) -> Iterator[CampWarning]:
    for (one, a), (other, b) in combinations(sorted(plots.items()), 2):
        if a.overlaps(b):
            yield CampWarning(
                "overlap",
                (one, other),
                _("Spots {one} and {other} overlap.").format(one=one, other=other),
            )


def _in_zones(plots: dict[int, Plot], zones: Sequence[Zone]) -> Iterator[CampWarning]:
    for number, plot in sorted(plots.items()):
        for zone in zones:
            if plot.overlaps(zone.plot):
                what = _(ZONE_WORDS[zone.kind])
                words = _("Spot {number} lies in {name} ({what}). {decides}").format(
                    number=number, name=zone.name, what=what, decides=_(WHO_DECIDES)
                )
                yield CampWarning("zone", (number,), words)


def _too_small(places: Sequence[Place]) -> Iterator[CampWarning]:
    for place in sorted(places, key=lambda one: one.number):
        for words, asked, has in (
            (
                _("{wagon} asked for {asked} ft of frontage; spot {number} has {has} ft."),
                place.asked_frontage,
                place.frontage,
            ),
            (
                _("{wagon} asked for {asked} ft of depth; spot {number} has {has} ft."),
                place.asked_depth,
                place.depth,
            ),
        ):
            if asked is not None and asked > has:
                said = words.format(
                    wagon=place.wagon, asked=f"{asked:g}", number=place.number, has=f"{has:g}"
                )
                yield CampWarning("small", (place.number,), said)


def _narrow(plots: dict[int, Plot]) -> Iterator[CampWarning]:
    narrow = [
        (one, other, a.gap(b))
        for (one, a), (other, b) in combinations(sorted(plots.items()), 2)
        if a.gap(b) < CLEAR_FT and not a.overlaps(b) and max(a.shared(b)) > HAIR_FT
    ]
    if not narrow:
        return
    pair = _("{one} and {other}: {gap} ft")
    shown = [
        pair.format(one=one, other=other, gap=f"{gap:.0f}")
        for one, other, gap in narrow[:MOST_GAPS]
    ]
    more = len(narrow) - len(shown)
    named = ", ".join(shown)
    if more:
        named = _("{spots}, and {more} more").format(spots=named, more=more)
    words = _(
        "Less than {clear} ft of ground between spots {named}. One campus asks for {clear} ft "
        "clear on two sides of a booth; what holds here may differ. {decides}"
    )
    yield CampWarning(
        "gap",
        tuple(sorted({number for one, other, _gap in narrow for number in (one, other)})),
        words.format(clear=f"{CLEAR_FT:.0f}", named=named, decides=_(WHO_DECIDES)),
    )


def rows_of_spots(
    *,
    n: int,
    first_number: int,
    x: float,
    y: float,
    frontage: float,
    depth: float,
    gap: float,
    n_rows: int,
    lane: float,
) -> tuple[Place, ...]:
    """Lay out spots of one size in rows, numbered from west to east and row by row to the south.

    Parameters
    ----------
    n, first_number : int
        How many spots, and the number of the first.
    x, y : float [ft]
        The west end of the first row's front.
    frontage, depth : float [ft]
        The size of each spot.
    gap : float [ft]
        Ground between neighbors.
    n_rows : int
        Over how many rows; earlier rows take one more where they do not come out even.
    lane : float [ft]
        Ground between the back of a row and the front of the next.

    Returns
    -------
    tuple of Place, shape (n,)

    Raises
    ------
    ValueError
        When there is no spot, no row, or a size that is not above zero.

    Source
    ------
    Common practice, no source: usual fronts are 40 to 60 ft, a lane runs behind each row.

    Examples
    --------
    >>> laid = rows_of_spots(n=3, first_number=4, x=0, y=0, frontage=50, depth=40, gap=10,
    ...     n_rows=2, lane=30)
    >>> [(place.number, place.x, place.y) for place in laid]
    [(4, 25.0, 0), (5, 85.0, 0), (6, 25.0, -70)]
    """
    if n < 1 or n_rows < 1 or frontage <= 0 or depth <= 0 or gap < 0 or lane < 0:
        raise ValueError("A row needs spots, and spots need a size.")
    each, longer = divmod(n, n_rows)
    lengths = [each + (row < longer) for row in range(n_rows)]
    spots = [(row, place) for row, length in enumerate(lengths) for place in range(length)]
    return tuple(
        Place(
            number=first_number + turn,
            x=x + frontage / 2 + place * (frontage + gap),
            y=y - row * (depth + lane),
            frontage=frontage,
            depth=depth,
        )
        for turn, (row, place) in enumerate(spots)
    )
