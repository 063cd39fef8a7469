"""The camp plan: spots added, moved and removed, rows, zones, and who camps where."""

from __future__ import annotations

import pytest

from entries.actions.assign_spots import assign_spots, swap_spots
from entries.actions.mark_zones import ZoneChange, mark_zones
from entries.actions.move_spots import SpotChange, lay_out_rows, move_spots
from entries.models import CampSpot, CampZone, Entry
from entries.rules.places import Status
from showrun.errors import Conflict, InvalidInput, NotFound, NotYet
from showrun.shows.models import AuditEntry, Person, Show
from tests.people import NOW, EntryFactory, ShowFactory

pytestmark = pytest.mark.django_db
NEW = {"number": 9, "x_ft": 300.0, "y_ft": 5.0, "frontage_ft": 60, "depth_ft": 30}


def spot(show: Show, number: int) -> CampSpot:
    return CampSpot.objects.get(show=show, number=number)


def numbers(show: Show) -> list[int]:
    return list(CampSpot.objects.filter(show=show).values_list("number", flat=True))


def move(show: Show, office: Person, *changes: SpotChange) -> list[CampSpot]:
    return move_spots(show=show, changes=changes, by=office, at=NOW)


# --- Spots ---------------------------------------------------------------------------------


def test_spots_are_added_moved_and_removed_in_one_step(show: Show, office: Person):
    moved, gone = spot(show, 1), spot(show, 2)
    move(
        show,
        office,
        SpotChange(None, NEW),
        SpotChange(moved.pk, {"x_ft": 77.5}),
        SpotChange(gone.pk, {}, remove=True),
    )
    assert numbers(show) == [1, 3, 9]
    moved.refresh_from_db()
    assert (moved.x_ft, moved.y_ft) == (77.5, 0)
    (line,) = AuditEntry.objects.filter(show=show, subject="the camp plan")
    assert [one["number"] for one in line.before] == [1, 2]
    assert [(one["number"], one["x_ft"]) for one in line.after] == [(9, 300.0), (1, 77.5)]


def test_two_spots_change_their_numbers_with_each_other(show: Show, office: Person):
    one, two = spot(show, 1), spot(show, 2)
    move(show, office, SpotChange(one.pk, {"number": 2}), SpotChange(two.pk, {"number": 1}))
    one.refresh_from_db()
    two.refresh_from_db()
    assert (one.number, two.number) == (2, 1)


def test_a_spot_somebody_camps_on_stays(show: Show, office: Person, other_entry: Entry):
    assert other_entry.spot
    with pytest.raises(Conflict, match="Copper Moth has camp spot 1"):
        move(
            show,
            office,
            SpotChange(None, NEW),
            SpotChange(other_entry.spot.pk, {}, remove=True),
        )
    assert numbers(show) == [1, 2, 3], "nothing of it happened"


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"number": 2}, "Two spots would have number 2"),
        ({"number": 0}, "from 1 up"),
        ({"x_ft": float("nan")}, "too far"),
        ({"y_ft": 1e9}, "too far"),
        ({"frontage_ft": 0}, "above zero"),
    ],
)
def test_a_spot_that_cannot_be_is_refused(show: Show, office: Person, values, words: str):
    with pytest.raises(InvalidInput, match=words):
        move(show, office, SpotChange(spot(show, 1).pk, values))
    assert not AuditEntry.objects.filter(show=show).exists()


def test_a_spot_gone_meanwhile_or_of_another_show_is_told(show: Show, office: Person):
    elsewhere = CampSpot.objects.create(show=ShowFactory.create(), number=1, x_ft=0, y_ft=0)
    with pytest.raises(Conflict, match="gone meanwhile"):
        move(show, office, SpotChange(elsewhere.pk, {"x_ft": 1.0}))


def test_nothing_changed_is_no_line_of_the_record(show: Show, office: Person):
    assert move(show, office) == []
    assert not AuditEntry.objects.filter(show=show).exists()


def test_rows_go_on_from_the_highest_number(show: Show, office: Person):
    laid = lay_out_rows(
        show=show, n=5, x_ft=0, y_ft=-200, frontage_ft=40, depth_ft=50, gap_ft=10, n_rows=2,
        lane_ft=60, by=office, at=NOW,
    )  # fmt: skip
    assert [one.number for one in laid] == [4, 5, 6, 7, 8]
    last = spot(show, 8)
    assert (last.x_ft, last.y_ft, last.frontage_ft, last.depth_ft) == (70, -310, 40, 50)
    with pytest.raises(InvalidInput, match="size"):
        lay_out_rows(
            show=show, n=0, x_ft=0, y_ft=0, frontage_ft=1, depth_ft=1, gap_ft=0, n_rows=1,
            lane_ft=0, by=office, at=NOW,
        )  # fmt: skip


# --- Zones ---------------------------------------------------------------------------------

LANE = {"kind": "fire_lane", "name": " North lane ", "x_ft": 0.0, "y_ft": 0.0, "width_ft": 20,
        "depth_ft": 200}  # fmt: skip


def mark(show: Show, office: Person, *changes: ZoneChange) -> list[CampZone]:
    return mark_zones(show=show, changes=changes, by=office, at=NOW)


def test_zones_are_marked_changed_and_removed(show: Show, office: Person):
    (lane,) = mark(show, office, ZoneChange(None, LANE))
    assert lane.name == "North lane"
    mark(show, office, ZoneChange(lane.pk, {"width_ft": 24}))
    lane.refresh_from_db()
    assert lane.width_ft == 24
    mark(show, office, ZoneChange(lane.pk, {}, remove=True))
    assert not CampZone.objects.exists()
    kept = AuditEntry.objects.filter(show=show, subject="the zones of the camp").order_by("id")
    widths = [[line["width_ft"] for line in one.after] for one in kept]
    assert widths == [[20], [24], []]
    assert [line["width_ft"] for line in kept[2].before] == [24]


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"name": " "}, "needs a name"),
        ({"name": "north LANE"}, "Two zones"),
        ({"kind": "moat"}, "what"),
        ({"width_ft": 0}, "above zero"),
        ({"x_ft": float("inf")}, "too far"),
    ],
)
def test_a_zone_that_cannot_be_is_refused(show: Show, office: Person, values, words: str):
    mark(show, office, ZoneChange(None, LANE))
    with pytest.raises(InvalidInput, match=words):
        mark(show, office, ZoneChange(None, {**LANE, "name": "South lane", **values}))
    assert CampZone.objects.count() == 1


# --- Who camps where -----------------------------------------------------------------------


@pytest.fixture
def third(show: Show) -> Entry:
    return EntryFactory.create(
        show=show, number=2, status=Status.CONFIRMED.value, wagon_name="Nine Biscuit",
        spot=spot(show, 2),
    )  # fmt: skip


def camped(*entries: Entry) -> list[int | None]:
    fresh = [Entry.objects.select_related("spot").get(pk=entry.pk) for entry in entries]
    return [entry.spot.number if entry.spot else None for entry in fresh]


def give(show: Show, office: Person, **wanted: int | None) -> list[Entry]:
    ids = {Entry.objects.get(show=show, number=int(k[1:])).pk: v for k, v in wanted.items()}
    return assign_spots(show=show, wanted=ids, by=office, at=NOW)


def test_wagons_change_places_in_one_step(
    show: Show, office: Person, other_entry: Entry, third: Entry
):
    give(show, office, n1=2, n2=1)
    assert camped(other_entry, third) == [2, 1]
    swap_spots(entry=other_entry, other=third, by=office, at=NOW)
    assert camped(other_entry, third) == [1, 2]
    kept = AuditEntry.objects.filter(show=show, verb="camped").order_by("id")
    assert [(one.before, one.after) for one in kept[:2]] == [
        ({"spot": 1}, {"spot": 2}),
        ({"spot": 2}, {"spot": 1}),
    ]
    assert kept.count() == 4


def test_one_gives_way_and_one_without_a_spot_takes_it(
    show: Show, office: Person, other_entry: Entry, third: Entry
):
    give(show, office, n1=None)
    swap_spots(entry=other_entry, other=third, by=office, at=NOW)
    assert camped(other_entry, third) == [2, None]
    assert give(show, office, n1=2) == [], "who stays has not moved"


def test_a_spot_another_has_is_not_free(
    show: Show, office: Person, other_entry: Entry, third: Entry
):
    with pytest.raises(Conflict, match=r"Camp spot 2 is not free: 2\. Nine Biscuit"):
        give(show, office, n1=2)
    with pytest.raises(Conflict, match="no camp spot 77"):
        give(show, office, n1=77)
    assert camped(other_entry, third) == [1, 2]


def test_only_confirmed_wagons_of_this_show_camp(show: Show, office: Person, entry: Entry):
    with pytest.raises(NotYet, match="confirmed"):
        assign_spots(show=show, wanted={entry.pk: 3}, by=office, at=NOW)
    foreign = EntryFactory.create(show=ShowFactory.create())
    with pytest.raises(NotFound):
        assign_spots(show=show, wanted={foreign.pk: 3}, by=office, at=NOW)
    with pytest.raises(NotYet, match="two different"):
        swap_spots(entry=entry, other=entry, by=office, at=NOW)
