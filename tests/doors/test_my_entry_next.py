"""My entry, first screen: what to do next; messages, money, seasons and the way to other pages."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from entries.actions.charge_entry import charge_entry
from entries.models import CrewMember, Entry, EntryTerms
from entries.rules.places import Status
from judging.actions.seasons import add_class, make_season
from judging.models import Visit
from reports.queries.my_next import first_step_of
from showrun.shows.models import Person, Show
from tests.judged_show import (
    AT,
    build_show,
    class_of,
    entry_of,
    mark_everything,
    office_of,
    open_window,
    release_results,
    steward_of,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def show() -> Show:
    return build_show()


def read(entry: Entry, person: Person | None = None) -> str:
    client = Client()
    client.force_login(person or entry.exhibitor)
    answer = client.get(reverse("reports:my-entry", args=[entry.pk]))
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def next_of(text: str) -> str:
    """What stands under the first heading."""
    return text.split("What to do next</h2>")[1].split("</section>", maxsplit=1)[0]


def test_what_is_missing_comes_first_with_the_place_to_fill_it_in(show: Show):
    EntryTerms.objects.create(show=show, emergency_asked=True, camp_asked=True)
    entry = entry_of(show, 1)
    said = next_of(read(entry))
    assert "2 things are still missing. The first: The size of your camp is not given." in said
    assert f'href="{reverse("entries:details", args=[entry.pk])}#frontage_ft"' in said
    assert "Still missing</h2>" in read(entry)
    assert read(entry).index("What to do next") < read(entry).index("Where it stands")


def test_with_nothing_open_the_rig_is_to_be_got_ready(show: Show):
    entry = entry_of(show, 2)
    assert reverse("judging:prepare", args=[show.slug]) in next_of(read(entry))


def test_the_office_is_not_told_what_the_exhibitor_does_next(show: Show):
    assert "What to do next" not in read(entry_of(show, 1), office_of(show))


def test_an_offered_place_has_its_deadline_and_its_buttons(show: Show):
    entry = entry_of(show, 1)
    until = timezone.now() + timedelta(hours=5)
    Entry.objects.filter(pk=entry.pk).update(
        status=Status.OFFERED.value, number=None, take_up_by=until
    )
    text = read(entry)
    assert "A place is offered to you. Take it up by" in next_of(text)
    assert f"{until.astimezone(show.tz):%M %p}" in next_of(text)
    assert f'action="{reverse("entries:place", args=[entry.pk])}"' in text


def test_the_next_visit_is_told_before_and_on_the_day(show: Show):
    open_window(show)
    entry = entry_of(show, 1)
    first = Visit.objects.filter(entry=entry).order_by("starts_at")[0]
    before = first.starts_at - timedelta(days=3)
    said = first_step_of(entry, before).sentence
    assert said.startswith(f"A judge comes on {first.starts_at.astimezone(show.tz):%A}")
    assert "to look at" in said
    hour = first.starts_at.astimezone(show.tz)
    today = first_step_of(entry, first.starts_at - timedelta(minutes=5)).sentence
    assert today.startswith(f"A judge comes today at {hour:%-I:%M %p}")
    last = Visit.objects.filter(entry=entry).order_by("-ends_at")[0]
    after = first_step_of(entry, last.ends_at + timedelta(minutes=1)).sentence
    assert after.startswith("Judging is over for your wagon.")


def test_results_out_lead_to_the_feedback_of_each_class(show: Show):
    mark_everything(show)
    release_results(show)
    entry = entry_of(show, 4)
    text = read(entry)
    assert "Results are out: First place in Trail wagon; " in next_of(text)
    for show_class in show.classes.all():
        assert reverse("reports:my-feedback", args=[entry.pk, show_class.pk]) in text
    assert re.search(r"Above the middle of the class in \w", text)
    start = first_step_of(entry, AT).sentence
    assert start in text


def test_what_is_owed_is_the_exhibitors_and_the_offices_to_see(show: Show):
    entry = entry_of(show, 1)
    assert "Fees and payments" not in read(entry)
    charge(entry, AT)
    text = read(entry)
    assert "You owe the show $150.00." in next_of(text)
    assert "Fees and payments" in text
    assert "Fees and payments" in read(entry, office_of(show))
    assert "$150.00" not in read(entry, steward_of(show))


def charge(entry: Entry, at: datetime) -> None:
    Show.objects.filter(pk=entry.show_id).update(entry_fee_cents=15_000)
    charge_entry(entry=Entry.objects.get(pk=entry.pk), by=None, at=at)


def test_who_is_under_age_is_named_to_the_owner_and_the_office_alone(show: Show):
    entry = entry_of(show, 1)
    CrewMember.objects.filter(entry=entry, role="helper").update(name="Young Alder", under_age=True)
    assert "Young Alder" in read(entry)
    assert "Young Alder" in read(entry, office_of(show))
    steward = read(entry, steward_of(show))
    assert "Young Alder" not in steward
    assert "Y. A." in steward


def test_other_pages_of_the_entry_are_one_tap_away(show: Show):
    entry = entry_of(show, 1)
    text = read(entry)
    for address in (
        reverse("entries:details", args=[entry.pk]),
        reverse("entries:crew", args=[entry.pk]),
        reverse("entries:camp-plan", args=[show.slug]),
        reverse("reports:my-outfits"),
    ):
        assert f'href="{address}"' in text
        client = Client()
        client.force_login(entry.exhibitor)
        assert client.get(address).status_code == 200, address


def test_a_season_the_class_counts_in_is_linked(show: Show):
    season = make_season(
        show=show, name="Lantern Season", points=["3"], best_of=None, by=office_of(show), at=AT
    )
    add_class(season=season, show_class=class_of(show), by=office_of(show), at=AT)
    assert reverse("judging:season", args=[season.slug]) in read(entry_of(show, 1))
