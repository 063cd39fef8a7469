"""The start for somebody with entries: what to do next, what was begun, the years before."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from django.test import Client
from django.urls import reverse

from entries.models import Entry, EntryDraft, EntryTerms
from showrun.shows.models import Person, Show
from tests.people import EntryFactory, ShowFactory

pytestmark = pytest.mark.django_db
WHEN = datetime(2027, 5, 15, 21, 0, tzinfo=UTC)


def test_the_start_says_what_to_do_next_about_each_own_entry(
    client: Client, show: Show, entry: Entry, exhibitor: Person
):
    client.force_login(exhibitor)
    address = reverse("reports:home")
    assert "the office confirms your entry next" in client.get(address).content.decode()
    EntryTerms.objects.create(show=show, emergency_asked=True)
    text = client.get(address).content.decode()
    assert "Still missing: Somebody to call in an emergency is not named." in text
    assert f"{reverse('entries:details', args=[entry.pk])}#emergency_name" in text
    assert reverse("reports:my-outfits") in text


def test_a_draft_leads_on_while_its_show_takes_entries(
    client: Client, show: Show, exhibitor: Person, other_exhibitor: Person
):
    EntryDraft.objects.create(
        show=show, exhibitor=exhibitor, typed={"wagon_name": ["Copper Ladle"]}, saved_at=WHEN
    )
    address = reverse("reports:home")
    client.force_login(exhibitor)
    text = client.get(address).content.decode()
    assert "Copper Ladle" in text
    assert "It holds no place yet." in text
    client.force_login(other_exhibitor)
    assert "Copper Ladle" not in client.get(address).content.decode()
    client.force_login(exhibitor)
    EntryTerms.objects.create(show=show, closes_at=datetime(2026, 1, 1, tzinfo=UTC))
    assert "Copper Ladle" not in client.get(address).content.decode()


def test_an_entry_of_long_ago_stands_in_the_history_alone(client: Client, exhibitor: Person):
    old = ShowFactory.create(starts_on=date(2020, 5, 1), ends_on=date(2020, 5, 3))
    entry = EntryFactory.create(show=old, exhibitor=exhibitor)
    client.force_login(exhibitor)
    text = client.get(reverse("reports:home")).content.decode()
    assert reverse("reports:my-entry", args=[entry.pk]) not in text
    assert reverse("reports:my-outfits") in text


def test_every_show_to_come_is_listed_however_many(client: Client):
    for number in range(12):
        ShowFactory.create(name=f"Coming {number}", ends_on=date(2099, 5, 3))
    text = client.get(reverse("reports:home")).content.decode()
    assert all(f"Coming {number}" in text for number in range(12))
