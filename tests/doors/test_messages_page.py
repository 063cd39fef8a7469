"""Messages: sent by the office, read on the page of the entry."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from entries.actions.tell_exhibitors import tell
from entries.models import Entry, OfficeMessage
from entries.rules.places import Status
from showrun.shows.models import Person, Show
from tests.people import NOW, EntryFactory

pytestmark = pytest.mark.django_db


def page(show: Show) -> str:
    return reverse("entries:messages", args=[show.slug])


def as_person(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def test_a_message_to_all_is_sent_and_listed(
    show: Show, office: Person, entry: Entry, other_entry: Entry
):
    client = as_person(office)
    answer = client.post(page(show), {"to": "all", "text": "Water at <b>gate 2</b>."}, follow=True)
    assert answer.redirect_chain == [(page(show), 302)]
    text = answer.content.decode()
    assert "To all exhibitors" in text
    assert "Water at &lt;b&gt;gate 2&lt;/b&gt;." in text
    for one in (entry, other_entry):
        own = as_person(one.exhibitor).get(reverse("reports:my-entry", args=[one.pk]))
        assert "Water at &lt;b&gt;gate 2&lt;/b&gt;." in own.content.decode()


def test_a_message_to_one_is_read_by_that_one_alone(
    show: Show, office: Person, entry: Entry, other_entry: Entry
):
    as_person(office).post(page(show), {"to": str(entry.pk), "text": "Come by the office."})
    own, other = (
        as_person(one.exhibitor).get(reverse("reports:my-entry", args=[one.pk])).content.decode()
        for one in (entry, other_entry)
    )
    assert "Come by the office." in own
    assert "to you alone" in own
    assert "Come by the office." not in other
    assert "Messages from the office" not in other


def test_nothing_typed_comes_back_with_the_choice_kept(show: Show, office: Person, entry: Entry):
    answer = as_person(office).post(page(show), {"to": str(entry.pk), "text": " "})
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "Write what you want to tell them." in text
    assert f'<option value="{entry.pk}" selected>' in text


@pytest.mark.parametrize("to", ["", "0", "x", "9" * 30, "٣"])
def test_a_wagon_that_is_not_there_gets_nothing(show: Show, office: Person, to: str):
    answer = as_person(office).post(page(show), {"to": to, "text": "Hello."})
    if to == "":
        assert OfficeMessage.objects.get().entry is None
        return
    assert answer.status_code == 422
    assert "Choose a wagon of this show, or all." in answer.content.decode()
    assert "Hello." in answer.content.decode()
    assert not OfficeMessage.objects.exists()


def test_scratched_wagons_are_not_offered(show: Show, office: Person, entry: Entry):
    gone = EntryFactory.create(show=show, status=Status.SCRATCHED.value, wagon_name="Broken Axle")
    client = as_person(office)
    text = client.get(page(show)).content.decode()
    assert entry.wagon_name in text
    assert "Broken Axle" not in text
    answer = client.post(page(show), {"to": str(gone.pk), "text": "Hello."})
    assert answer.status_code == 422


def test_a_second_tap_says_so_and_sends_nothing(show: Show, office: Person, entry: Entry):
    client = as_person(office)
    for _ in range(2):
        answer = client.post(page(show), {"to": "all", "text": "Once."}, follow=True)
    assert "was not sent again" in answer.content.decode()
    assert OfficeMessage.objects.count() == 1


def test_a_steward_reads_and_sends_nothing(show: Show, steward: Person, office: Person):
    tell(show=show, entry=None, text="Read by all.", by=office, at=NOW)
    client = as_person(steward)
    text = client.get(page(show)).content.decode()
    assert "Read by all." in text
    assert "<textarea" not in text
    assert client.post(page(show), {"to": "all", "text": "x"}).status_code == 403
