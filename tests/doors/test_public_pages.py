"""What anybody may read: the start, a show, and the results released; and nothing before that."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from entries.models import Entry
from entries.rules.places import Status
from judging.models import (
    ClassCard,
    Judge,
    Placing,
    Result,
    Scorecard,
    Visit,
    Window,
)
from showrun.shows.models import Person, Show, ShowClass
from tests.people import EntryFactory, ShowFactory

pytestmark = pytest.mark.django_db
WHEN = datetime(2027, 5, 15, 21, 0, tzinfo=UTC)


@pytest.fixture
def declared(trail: ShowClass, scorecard: Scorecard) -> ClassCard:
    """The trail class: plain total, two judges, running gear parts ties."""
    card = ClassCard.objects.create(
        show_class=trail, method="plain", judges_per_section=2, tie_ladder=["running_gear"]
    )
    card.sections.set(scorecard.sections.all())
    return card


def result_of(declared: ClassCard, lines: list[tuple[Entry, int, str]], **more: Any) -> Result:
    """A result as it stands after computing; each line is entry, place and total."""
    facts = {
        "version": 1,
        "method": "plain",
        "rule_version": "1",
        "inputs_hash": "x",
        "computed_at": WHEN,
        "possible_points": 200,
        **more,
    }
    result = Result.objects.create(show_class=declared.show_class, **facts)
    for entry, place, total in lines:
        Placing.objects.create(
            result=result,
            entry=entry,
            place=place,
            total=Decimal(total),
            by_section={"running_gear": "91.25", "camp_kit": "60.50"},
        )
    return result


def text_of(client: Client, name: str, show: Show) -> str:
    answer = client.get(reverse(name, args=[show.slug]))
    assert answer.status_code == 200
    return str(answer.content.decode())


# --- Results ------------------------------------------------------------------------------


def test_nothing_is_shown_before_release(
    client: Client, show: Show, declared: ClassCard, other_entry: Entry, office: Person
):
    result_of(declared, [(other_entry, 1, "151.75")])
    for person in (None, office):
        if person:
            client.force_login(person)
        text = text_of(client, "judging:results", show)
        assert "Results are released by the office; there are none yet." in text
        assert "151.75" not in text
        assert other_entry.wagon_name not in text
    assert "Results</a>" not in text_of(client, "judging:show", show)


def test_a_released_result_has_totals_and_sections(
    client: Client, show: Show, declared: ClassCard, other_entry: Entry
):
    result_of(declared, [(other_entry, 1, "151.75")], released_at=WHEN)
    text = text_of(client, "judging:results", show)
    for part in ("Copper Moth", "151.75", "Total of 200", "91.25", "of 120", "60.50", "of 80"):
        assert part in text
    assert "Saturday, May 15, 2027, 3:00 PM" in text  # the show's clock, not the server's
    assert "Results</a>" in text_of(client, "judging:show", show)


def test_a_correction_waits_for_its_own_release(
    client: Client, show: Show, declared: ClassCard, other_entry: Entry
):
    first = result_of(declared, [(other_entry, 1, "151.75")], released_at=WHEN)
    second = result_of(
        declared, [(other_entry, 1, "148.00")], version=2, reason="A slip in running gear."
    )
    text = text_of(client, "judging:results", show)
    assert "151.75" in text
    assert "148.00" not in text
    Result.objects.filter(pk=first.pk).update(replaced_at=WHEN)
    Result.objects.filter(pk=second.pk).update(released_at=WHEN)
    text = text_of(client, "judging:results", show)
    assert "148.00" in text
    assert "151.75" not in text
    assert "Reason: <bdi>A slip in running gear.</bdi>" in text
    assert "version 2" in text


def test_shared_places_are_said(
    client: Client, show: Show, declared: ClassCard, entry: Entry, other_entry: Entry
):
    Entry.objects.filter(pk=entry.pk).update(status=Status.CONFIRMED.value, number=2)
    third = EntryFactory.create(show=show, status=Status.CONFIRMED.value, number=3)
    result_of(
        declared,
        [(entry, 1, "150"), (other_entry, 1, "150"), (third, 3, "140")],
        released_at=WHEN,
    )
    assert text_of(client, "judging:results", show).count("(shared)") == 2


def test_results_of_another_show_stay_there(
    client: Client, declared: ClassCard, other_entry: Entry
):
    result_of(declared, [(other_entry, 1, "151.75")], released_at=WHEN)
    assert "151.75" not in text_of(client, "judging:results", ShowFactory.create())


def test_a_long_table_asks_no_more_of_the_database(client: Client, show: Show, declared: ClassCard):
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            text_of(client, "judging:results", show)
        return len(seen)

    result = result_of(declared, [], released_at=WHEN)
    counts = []
    for upto in (2, 30):
        while result.placings.count() < upto:
            number = result.placings.count() + 1
            new = EntryFactory.create(show=show, status=Status.CONFIRMED.value, number=number)
            Placing.objects.create(
                result=result, entry=new, place=number, total=200 - number, by_section={}
            )
        counts.append(queries())
    assert counts[0] == counts[1]
    assert counts[0] <= 8


# --- The show -----------------------------------------------------------------------------


def test_the_show_says_how_each_class_is_judged(client: Client, show: Show, declared: ClassCard):
    text = text_of(client, "judging:show", show)
    assert "2 judges see each section." in text
    assert "Plain total: all judges&#x27; points added." in text
    assert "Equal totals are parted by Running gear; still equal, they share the place." in text
    assert "A row that could not be inspected is left out in the same way." in text
    assert "Original, restored and new gear can earn the same marks." in text
    assert "Local codes and officials decide" in text
    assert "has not done so yet" in text  # the ranch class is not declared
    assert "3 of 3 left" in text


def test_how_it_is_judged_follows_what_was_declared(
    client: Client, show: Show, declared: ClassCard
):
    declared.method, declared.tie_ladder, declared.not_inspected = "judge_adjusted", [], "zero"
    declared.judges_per_section = 1
    declared.save()
    text = text_of(client, "judging:show", show)
    assert "Judge-adjusted total" in text
    assert "Entries with equal totals share the place." in text
    assert "A row that could not be inspected counts as zero." in text
    assert "One judge sees each section." in text


def test_a_full_show_offers_the_wait_list(client: Client, show: Show):
    EntryFactory.create_batch(3, show=show)
    text = text_of(client, "judging:show", show)
    assert "All 3 taken" in text
    assert "Join the wait list" in text


def test_the_timetable_is_shown_once_published(
    client: Client, show: Show, other_entry: Entry, judge: Judge
):
    window = Window.objects.create(
        show=show,
        opens_at=WHEN,
        available_minutes=300,
        needed_minutes=20,
        bound_minutes=20,
        proven=True,
        solver="by hand",
    )
    Visit.objects.create(
        window=window,
        judge=judge,
        entry=other_entry,
        starts_at=WHEN,
        ends_at=WHEN + timedelta(minutes=12),
    )
    before = text_of(client, "judging:show", show)
    assert "The timetable is not published yet." in before
    assert "3:00–3:12 PM" not in before
    window.published_at = WHEN
    window.save()
    after = text_of(client, "judging:show", show)
    assert "3:00–3:12 PM" in after
    assert judge.person.name not in after


def test_no_exhibitor_or_crew_is_named_in_public(client: Client, show: Show, entry: Entry):
    text = text_of(client, "judging:show", show)
    assert entry.exhibitor.name not in text
    assert "Crew 0" not in text


def test_one_sees_ones_own_entries_and_office(
    client: Client, show: Show, entry: Entry, exhibitor: Person, office: Person
):
    own = reverse("reports:my-entry", args=[entry.pk])
    door = reverse("reports:office", args=[show.slug])
    client.force_login(exhibitor)
    text = text_of(client, "judging:show", show)
    assert own in text
    assert door not in text
    client.force_login(office)
    text = text_of(client, "judging:show", show)
    assert door in text
    assert own not in text


@pytest.mark.parametrize("name", ["judging:show", "judging:results"])
def test_no_such_show(client: Client, name: str):
    answer = client.get(reverse(name, args=["nowhere"]))
    assert answer.status_code == 404
    assert b"There is no show at this address." in answer.content


# --- The start ----------------------------------------------------------------------------


def test_the_start_lists_coming_and_earlier_shows(client: Client, show: Show):
    old = ShowFactory.create(name="Old Days", starts_on=date(2020, 5, 1), ends_on=date(2020, 5, 3))
    text = client.get(reverse("reports:home")).content.decode()
    coming, earlier = text.split("Earlier shows")
    assert show.name in coming
    assert old.name not in coming
    assert reverse("judging:results", args=[old.slug]) in earlier
    assert "Your entries" not in text


def test_the_start_shows_what_is_ones_own(
    client: Client, show: Show, entry: Entry, exhibitor: Person, office: Person, stranger: Person
):
    address = reverse("reports:home")
    own = reverse("reports:my-entry", args=[entry.pk])
    door = reverse("reports:office", args=[show.slug])
    for person, sees_own, sees_door in (
        (exhibitor, True, False),
        (office, False, True),
        (stranger, False, False),
    ):
        client.force_login(person)
        text = client.get(address).content.decode()
        assert (own in text, door in text) == (sees_own, sees_door), person
