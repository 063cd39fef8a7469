"""What an office does for all wagons at once: confirm them, give them camp spots."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from entries.actions.assign_spots import fill_spots
from entries.actions.decide_entry import confirm_entered, put_on_wait_list, scratch_entry
from entries.models import CampSpot, Entry
from entries.rules.places import Status
from showrun.errors import InvalidInput, NotYet
from showrun.shows.models import AuditEntry, Person, Show
from tests.judged_show import BEFORE
from tests.people import CampSpotFactory, EntryFactory

pytestmark = pytest.mark.django_db


def entered(show: Show, n: int) -> list[Entry]:
    return [EntryFactory.create(show=show, status=Status.ENTERED.value) for _ in range(n)]


def test_all_who_entered_are_confirmed_in_their_order(show: Show, office: Person):
    CampSpot.objects.filter(show=show).delete()
    CampSpotFactory.create(show=show, number=1)
    entries = entered(show, 3)
    waiting = EntryFactory.create(show=show, status=Status.WAITING.value)
    done = confirm_entered(show=show, by=office, at=BEFORE)
    assert [one.pk for one in done] == [one.pk for one in entries]
    assert [one.number for one in done] == [1, 2, 3]
    assert [one.spot and one.spot.number for one in done] == [1, None, None]
    waiting.refresh_from_db()
    assert waiting.status == Status.WAITING
    assert AuditEntry.objects.filter(show=show, actor=office).count() >= 3
    with pytest.raises(NotYet):
        confirm_entered(show=show, by=office, at=BEFORE)


def test_wagons_without_a_spot_get_the_free_ones(show: Show, office: Person):
    CampSpot.objects.filter(show=show).delete()
    entered(show, 3)
    confirm_entered(show=show, by=office, at=BEFORE)
    for number in (4, 9):
        CampSpotFactory.create(show=show, number=number)
    placed = fill_spots(show=show, by=office, at=BEFORE)
    assert [(one.number, one.spot and one.spot.number) for one in placed] == [(1, 4), (2, 9)]
    assert fill_spots(show=show, by=office, at=BEFORE) == []


def test_the_pages_offer_it_where_it_helps(show: Show, office: Person):
    CampSpot.objects.filter(show=show).delete()
    entered(show, 2)
    client = Client()
    client.force_login(office)
    page = reverse("entries:office-entries", args=[show.slug])
    assert "Confirm all 2 who entered" in client.get(page).content.decode()
    answer = client.post(reverse("entries:confirm-all", args=[show.slug]), follow=True)
    said = answer.content.decode()
    assert "Confirmed: 2." in said
    assert "Without a camp spot: 2; none is free." in said
    assert "Confirm all" not in said
    camp = reverse("entries:camp", args=[show.slug])
    CampSpotFactory.create(show=show, number=1)
    assert "Give 2 wagons without a spot the next free ones" in client.get(camp).content.decode()
    answer = client.post(camp, {"do": "fill"}, follow=True)
    assert "1 wagon has a spot now." in answer.content.decode()


def test_a_reason_longer_than_is_kept_is_refused_whoever_asks(
    entry: Entry, other_entry: Entry, office: Person
):
    long = "x" * (Entry.REASON_MAX + 1)
    with pytest.raises(InvalidInput, match="longer than 200 letters"):
        scratch_entry(entry=entry, by=office, at=BEFORE, reason=long)
    with pytest.raises(InvalidInput, match="longer than 200 letters"):
        put_on_wait_list(entry=other_entry, by=office, at=BEFORE, reason=long)
    done = scratch_entry(entry=entry, by=office, at=BEFORE, reason=f" {long[1:]} ")
    assert done.status_reason == long[1:]
