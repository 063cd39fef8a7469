"""The gate on the office's tablet: the list, one wagon, and who may do what there."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

import pytest
from django.contrib.messages import get_messages
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from entries.models import Animal, CampSpot, CheckIn, Entry, EntryTerms
from entries.rules.places import Status
from showrun.shows.models import AuditEntry, Person, Show
from tests.people import EntryFactory

pytestmark = pytest.mark.django_db


def gate(show: Show) -> str:
    return reverse("entries:check-in", args=[show.slug])


def wagon(entry: Entry) -> str:
    return reverse("entries:check-in-wagon", args=[entry.show.slug, entry.pk])


@pytest.fixture
def tablet(client: Client, office: Person) -> Client:
    client.force_login(office)
    return client


@pytest.fixture
def stewards(steward: Person) -> Client:
    made = Client()
    made.force_login(steward)
    return made


def tap(client: Client, entry: Entry, **fields: str) -> str:
    answer = client.post(wagon(entry), fields)
    assert answer.status_code == 302, answer.content.decode()
    return " ".join(str(message) for message in get_messages(answer.wsgi_request))


def words(page: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


def read(client: Client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200
    return answer.content.decode()


def named(page: str) -> list[str]:
    return re.findall(r'data-number="(\d+)"', page)


@pytest.fixture
def wagons(show: Show, other_entry: Entry) -> list[Entry]:
    """Numbers 1, 10 and 11; number 1 is Copper Moth."""
    return [
        other_entry,
        *(
            EntryFactory.create(show=show, number=n, status=Status.CONFIRMED.value, wagon_name=name)
            for n, name in ((10, "Señora Peña"), (11, "Moth Eaten"))
        ),
    ]


# --- The list ------------------------------------------------------------------------------


def test_the_list_counts_and_one_tap_says_arrived(tablet: Client, show: Show, wagons: list[Entry]):
    page = read(tablet, gate(show))
    assert "Arrived 0 Expected 3 Scratched 0" in words(page)
    said = tap(tablet, wagons[0], **{"do": "tick", "tick": "arrived", "from": "list", "q": "moth"})
    assert said == "1 Copper Moth: arrived."
    page = read(tablet, gate(show))
    assert "Arrived 1 Expected 2 Scratched 0" in words(page)
    assert "here since" in page
    # Back to the list as it was narrowed, at the wagon.
    fields = {"do": "tick", "tick": "arrived", "from": "list", "q": "moth", "which": "expected"}
    answer = tablet.post(wagon(wagons[2]), fields)
    assert answer["Location"] == f"{gate(show)}?q=moth&which=expected#entry-{wagons[2].pk}"


@pytest.mark.parametrize(
    ("q", "found"),
    [
        ("1", ["1"]),
        ("010", ["10"]),
        ("moth", ["1", "11"]),
        ("MOTH copper", ["1"]),
        ("peña", ["10"]),
        ("Otto", ["1"]),
        ("nobody", []),
        ("", ["1", "10", "11"]),
    ],
)
def test_a_number_is_that_number_and_a_name_any_part_of_it(
    tablet: Client, show: Show, wagons: list[Entry], q: str, found: list[str]
):
    page = read(tablet, f"{gate(show)}?q={q}")
    assert named(page) == found
    above = page.partition("data-gate-none")[0]
    assert ("No wagon here answers to that" in above) == (not found)


def test_the_list_is_narrowed_by_where_wagons_are_and_refreshes_so(
    tablet: Client, show: Show, wagons: list[Entry]
):
    tap(tablet, wagons[1], do="tick", tick="arrived")
    Entry.objects.filter(pk=wagons[2].pk).update(status=Status.SCRATCHED.value)
    for which, found in (("expected", ["1"]), ("here", ["10"]), ("scratched", ["11"])):
        page = read(tablet, f"{gate(show)}?which={which}")
        assert named(page) == found
        assert f'data-refresh-from="{gate(show)}?which={which}"' in page
        assert page.count("data-live") >= 4


def test_a_long_list_takes_as_many_reads_as_a_short_one(
    tablet: Client, show: Show, wagons: list[Entry]
):
    def reads() -> int:
        with CaptureQueriesContext(connection) as seen:
            read(tablet, gate(show))
        return len(seen)

    few = reads()
    for n in range(20, 40):
        one = EntryFactory.create(show=show, number=n, status=Status.CONFIRMED.value)
        Animal.objects.create(entry=one, name="Dolly", kind="mule")
    assert reads() == few


# --- One wagon -----------------------------------------------------------------------------


def test_every_tick_of_a_wagon_is_made_and_taken_back(tablet: Client, other_entry: Entry):
    page = read(tablet, wagon(other_entry))
    for code in ("arrived", "papers_seen", "crew_seen", "plate_given", "on_spot"):
        assert f'name="tick" value="{code}"' in page
        tap(tablet, other_entry, do="tick", tick=code)
    row = CheckIn.objects.get()
    assert None not in (
        row.arrived_at, row.papers_seen_at, row.crew_seen_at, row.plate_given_at, row.on_spot_at,
    )  # fmt: skip
    assert read(tablet, wagon(other_entry)).count(">Undo<") == 5
    assert tap(tablet, other_entry, do="tick", tick="plate_given", undo="yes") == (
        "1 Copper Moth: not number plate given."
    )
    row.refresh_from_db()
    assert (row.plate_given_at, row.arrived_at is None) == (None, False)


def test_papers_stand_with_their_dates_beside_the_shows_rule_and_say_nothing_of_health(
    tablet: Client, show: Show, other_entry: Entry
):
    EntryTerms.objects.create(show=show, animals_asked=True, eia_max_age_days=365)
    mule = Animal.objects.create(
        entry=other_entry, name="Dolly", kind="mule", eia_tested_on=date(2126, 1, 5)
    )
    page = words(read(tablet, wagon(other_entry)))
    assert "EIA test: dated Jan 5, 2126; this show asks for at most 365 days" in page
    assert "older than this show asks" in page
    assert "nothing of an animal's health" in page
    assert tap(tablet, other_entry, do="papers", animal=str(mule.pk)) == "Papers of Dolly: seen."
    assert "by Olive Secretary" in words(read(tablet, wagon(other_entry)))
    tap(tablet, other_entry, do="papers", animal=str(mule.pk), undo="yes")
    mule.refresh_from_db()
    assert mule.papers_seen_at is None


def test_an_animal_of_another_wagon_is_not_ticked_off_here(
    tablet: Client, entry: Entry, other_entry: Entry
):
    foreign = Animal.objects.create(entry=entry, name="Jack", kind="horse")
    said = tap(tablet, other_entry, do="papers", animal=str(foreign.pk))
    assert "not on the wagon's list" in said
    foreign.refresh_from_db()
    assert foreign.papers_seen_at is None


def test_what_is_lacking_stands_there(tablet: Client, show: Show, other_entry: Entry):
    EntryTerms.objects.create(show=show, waiver_text="I agree.", waiver_version=1)
    assert "The waiver is not agreed to." in read(tablet, wagon(other_entry))


def test_the_spot_is_changed_to_a_free_one_only(tablet: Client, show: Show, other_entry: Entry):
    taken = CampSpot.objects.get(show=show, number=3)
    EntryFactory.create(show=show, number=2, status=Status.CONFIRMED.value, spot=taken)
    page = read(tablet, wagon(other_entry))
    assert re.findall(r"<option>(\d+)</option>", page) == ["2"]
    assert tap(tablet, other_entry, do="spot", spot="2") == "1 Copper Moth camps on spot 2."
    assert "is not free" in tap(tablet, other_entry, do="spot", spot="3")
    assert "free spot" in tap(tablet, other_entry, do="spot", spot="two")
    other_entry.refresh_from_db()
    assert other_entry.spot and other_entry.spot.number == 2


def test_a_note_is_kept_as_words(tablet: Client, other_entry: Entry, show: Show):
    tap(tablet, other_entry, do="note", note="<b>North</b> gate")
    assert "&lt;b&gt;North&lt;/b&gt; gate" in read(tablet, gate(show))
    assert "200 letters" in tap(tablet, other_entry, do="note", note="x" * 201)


def test_a_wagon_is_scratched_from_the_gate_with_a_reason_and_the_page_says_so(
    tablet: Client, other_entry: Entry
):
    assert "Say why" in tap(tablet, other_entry, do="scratch", reason=" ")
    said = tap(tablet, other_entry, do="scratch", reason="Broken axle.")
    assert "is scratched" in said
    other_entry.refresh_from_db()
    assert other_entry.status == Status.SCRATCHED
    page = read(tablet, wagon(other_entry))
    assert "Broken axle." in page
    assert 'value="arrived"' not in page


@pytest.mark.parametrize(
    "fields", [{}, {"do": "fly"}, {"do": "tick", "tick": "seen"}, {"do": "papers", "animal": "²"}]
)
def test_what_makes_no_sense_changes_nothing(
    tablet: Client, other_entry: Entry, fields: dict[str, Any]
):
    assert tap(tablet, other_entry, **fields)
    assert not CheckIn.objects.exists()


# --- Who may -------------------------------------------------------------------------------


def test_a_steward_checks_in_and_does_not_scratch(
    stewards: Client, other_entry: Entry, steward: Person
):
    assert "Scratch Copper Moth" not in read(stewards, wagon(other_entry))
    tap(stewards, other_entry, do="tick", tick="arrived")
    (line,) = AuditEntry.objects.filter(verb="checked in")
    assert line.actor == steward
    refused = stewards.post(wagon(other_entry), {"do": "scratch", "reason": "x"})
    assert refused.status_code == 403
    other_entry.refresh_from_db()
    assert other_entry.status == Status.CONFIRMED


def test_a_wagon_of_another_show_is_not_at_this_gate(tablet: Client, other_entry: Entry):
    address = reverse("entries:check-in-wagon", args=["other-show", other_entry.pk])
    assert tablet.get(address).status_code == 404
