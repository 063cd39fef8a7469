"""The camp page of the office, the plan for exhibitors, and what a moved spot does to times."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.contrib.messages import get_messages
from django.test import Client
from django.urls import reverse

from entries.actions.move_spots import SpotChange, move_spots
from entries.models import CampSpot, CampZone, Entry
from entries.rules.places import Status
from judging.queries.plan import show_problem
from showrun.shows.models import Person, Show
from tests.judged_show import AT, build_show, draw_panel, entry_of, office_of, open_window
from tests.people import EntryFactory
from tests.window_page import client_of
from tests.window_page import read as read_window

pytestmark = pytest.mark.django_db


def camp(show: Show) -> str:
    return reverse("entries:camp", args=[show.slug])


def plan(show: Show) -> str:
    return reverse("entries:camp-plan", args=[show.slug])


@pytest.fixture
def desk(client: Client, office: Person) -> Client:
    client.force_login(office)
    return client


def fields_of(page: str) -> dict[str, str]:
    """What the page's inputs would send, as they stand."""
    found = re.findall(r"<input[^>]*>", page)
    pairs = [(re.search(r'name="([^"]+)"', one), re.search(r'value="([^"]*)"', one))
             for one in found if 'type="checkbox"' not in one]  # fmt: skip
    return {name[1]: value[1] if value else "" for name, value in pairs if name}


def save(client: Client, show: Show, do: str, **changes: Any) -> Any:
    """Change fields of the page as it is now, and save that form."""
    typed = fields_of(client.get(camp(show)).content.decode())
    return client.post(camp(show), {**typed, "do": do, **changes})


def said(answer: Any) -> str:
    return " ".join(str(message) for message in get_messages(answer.wsgi_request))


def spot(show: Show, number: int) -> CampSpot:
    return CampSpot.objects.get(show=show, number=number)


# --- The office ----------------------------------------------------------------------------


def test_spots_are_typed_added_and_removed(desk: Client, show: Show):
    one, two = spot(show, 1), spot(show, 2)
    answer = save(desk, show, "spots", **{
        f"spot-{one.pk}-x_ft": "31.5",
        f"spot-{two.pk}-remove": "on",
        "spot-new-number": "7", "spot-new-x_ft": "200", "spot-new-y_ft": "-10",
    })  # fmt: skip
    assert (answer.status_code, said(answer)) == (302, "3 spots changed.")
    one.refresh_from_db()
    assert one.x_ft == 31.5
    new = spot(show, 7)
    assert (new.x_ft, new.y_ft, new.frontage_ft, new.depth_ft) == (200, -10, 50, 40)
    assert not CampSpot.objects.filter(pk=two.pk).exists()


def test_a_save_changes_what_was_changed_on_this_page_only(desk: Client, show: Show):
    """Another tablet moved spot 1 since this page was loaded; this page moves spot 2."""
    typed = fields_of(desk.get(camp(show)).content.decode())
    CampSpot.objects.filter(show=show, number=1).update(x_ft=500)
    changed = {f"spot-{spot(show, 2).pk}-y_ft": "40"}
    desk.post(camp(show), {**typed, "do": "spots", **changed})
    assert (spot(show, 1).x_ft, spot(show, 2).y_ft) == (500, 40)


@pytest.mark.parametrize("typed", ["", "far", "nan", "1e99", "99999"])
def test_a_place_that_is_none_is_told_at_its_field_and_stays_typed(
    desk: Client, show: Show, typed: str
):
    one = spot(show, 1)
    answer = save(desk, show, "spots", **{f"spot-{one.pk}-x_ft": typed})
    assert answer.status_code == 200
    page = answer.content.decode()
    assert "Nothing was saved yet" in page
    assert page.count("errorlist") == 1
    assert spot(show, 1).x_ft == one.x_ft


def test_a_number_twice_is_refused_with_its_number(desk: Client, show: Show):
    answer = save(desk, show, "spots", **{f"spot-{spot(show, 1).pk}-number": "3"})
    assert "Two spots would have number 3." in answer.content.decode()


def test_rows_are_laid_out_and_zones_marked_and_what_they_meet_is_warned_of(
    desk: Client, show: Show
):
    assert said(save(desk, show, "rows", **{"rows-n": "4", "rows-y_ft": "-300"})) == (
        "Spots 4 to 7 are on the plan."
    )
    answer = save(desk, show, "zones", **{
        "zone-new-kind": "fire_lane", "zone-new-name": "Cross lane", "zone-new-x_ft": "10",
        "zone-new-y_ft": "0", "zone-new-width_ft": "12", "zone-new-depth_ft": "500",
    })  # fmt: skip
    assert said(answer) == "1 zone changed."
    page = desk.get(camp(show)).content.decode()
    assert "Spot 1 lies in Cross lane (fire lane)." in page
    assert "Spot 4 lies in Cross lane (fire lane)." in page
    assert "approve nothing" in page
    zone = CampZone.objects.get()
    save(desk, show, "zones", **{f"zone-{zone.pk}-remove": "on"})
    assert "lies in" not in desk.get(camp(show)).content.decode()


def test_wagons_are_given_spots_by_the_table_and_swapped(
    desk: Client, show: Show, other_entry: Entry
):
    third = EntryFactory.create(
        show=show, number=2, status=Status.CONFIRMED.value, spot=spot(show, 2)
    )
    mine, theirs = f"spot-{other_entry.pk}", f"spot-{third.pk}"
    # By the table both at once; each names what it had.
    assert said(save(desk, show, "assign", **{mine: "2", theirs: "1"})) == "2 wagons moved."
    other_entry.refresh_from_db()
    assert other_entry.spot and other_entry.spot.number == 2
    answer = save(desk, show, "swap", one=str(other_entry.pk), other=str(third.pk))
    assert "changed places" in said(answer)
    other_entry.refresh_from_db()
    assert other_entry.spot and other_entry.spot.number == 1
    refused = save(desk, show, "assign", **{mine: "2"})
    assert "is not free" in refused.content.decode()
    assert said(save(desk, show, "assign", **{mine: "none"})) == "1 wagon moved."


def test_hostile_names_stay_words_on_plan_and_page(desk: Client, show: Show, other_entry: Entry):
    hostile = "<script>x</script>"
    Entry.objects.filter(pk=other_entry.pk).update(wagon_name=hostile)
    CampZone.objects.create(
        show=show, kind="other", name=hostile, x_ft=0, y_ft=0, width_ft=9, depth_ft=9
    )
    for address in (camp(show), plan(show)):
        page = desk.get(address).content.decode()
        assert hostile not in page
        assert "&lt;script&gt;" in page


def test_a_steward_reads_the_plan_and_changes_nothing(client: Client, steward: Person, show: Show):
    client.force_login(steward)
    page = client.get(camp(show)).content.decode()
    assert "Save spots" not in page
    assert "data-spot" not in page
    assert client.post(camp(show), {"do": "spots"}).status_code == 403


# --- Exhibitors ----------------------------------------------------------------------------


def test_the_plan_is_for_the_office_and_those_with_a_confirmed_wagon(
    client: Client, show: Show, other_entry: Entry, entry: Entry
):
    assert client.get(plan(show)).status_code == 404
    client.force_login(entry.exhibitor)
    assert client.get(plan(show)).status_code == 404, "not before the wagon is confirmed"
    client.force_login(other_entry.exhibitor)
    page = client.get(plan(show)).content.decode()
    assert "<bdi>Copper Moth</bdi>: spot 1, 50 by 40 ft" in page
    assert "tabindex" not in page.partition("<svg")[2].partition("</svg>")[0]
    assert client.get(camp(show)).status_code == 403


# --- Times ---------------------------------------------------------------------------------


def moved(show: Show, number: int, x_ft: float) -> None:
    change = SpotChange(spot(show, number).pk, {"x_ft": x_ft})
    move_spots(show=show, changes=[change], by=office_of(show), at=AT)


def test_a_moved_spot_is_seen_in_the_windows_walking_minutes_and_told_after_publication():
    show = build_show(kin=False)
    draw_panel(show)

    def minutes() -> int:
        problem = show_problem(show).problem
        one, two = (problem.spot[entry_of(show, number)] for number in (1, 2))
        return int(problem.walk[one][two])

    assert minutes() == 1
    moved(show, 2, 5000)
    assert minutes() == 25
    moved(show, 2, 100)
    open_window(show)
    assert "planned with another camp" not in read_window(show)
    moved(show, 2, 5000)
    page = read_window(show)
    assert "The times were planned with another camp" in page
    assert re.search(r"it takes 2\d min, the times leave \d+", page)
    moved(show, 2, 100)
    assert "planned with another camp" not in read_window(show)
    assert client_of(office_of(show)).get(camp(show)).status_code == 200
