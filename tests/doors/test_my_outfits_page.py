"""An exhibitor's outfits over the years."""

from __future__ import annotations

from datetime import date

import pytest
from django.test import Client
from django.urls import reverse

from entries.models import Entry, Outfit
from judging.models import Placing
from reports.models import Paper
from showrun.shows.models import Person, Show
from tests import papers_stage as stage
from tests.judged_show import RIGS
from tests.people import NOW, EntryFactory

pytestmark = pytest.mark.django_db


def read(person: Person) -> str:
    client = Client()
    client.force_login(person)
    answer = client.get(reverse("reports:my-outfits"))
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def year(number: int, person: Person, *, released: bool = True, own: int = 2) -> Entry:
    """A show of a year with four wagons, the second the person's."""
    show = stage.show(slug=f"days-{number}", name=f"Days {number}")
    Show.objects.filter(pk=show.pk).update(
        starts_on=date(number, 5, 14), ends_on=date(number, 5, 16)
    )
    sections = stage.scorecard(show, n_sections=2, n_rows=3)
    stage.released_class(show, sections, n_entries=4, released_at=stage.AT if released else None)
    entry = Entry.objects.get(show=show, number=own)
    entry.exhibitor = person
    entry.save()
    return entry


def test_an_outfit_keeps_its_shows_over_the_years(exhibitor: Person):
    outfit = Outfit.objects.create(
        exhibitor=exhibitor, wagon_name="Old Lantern", kept_at=NOW, **RIGS[0]
    )
    older, newer = year(2025, exhibitor), year(2026, exhibitor, own=1)
    # The wagon was called otherwise then; the outfit's row is what holds the years together.
    Entry.objects.filter(pk__in=[older.pk, newer.pk]).update(kept_outfit=outfit)
    text = read(exhibitor)
    assert text.count("<h2") == 1
    assert "Old Lantern" in text
    assert text.index("Days 2026") < text.index("Days 2025")
    assert "First place in Trail wagon, 4 placed" in text
    assert "Second place in Trail wagon, 4 placed" in text
    placing = Placing.objects.get(entry=older)
    share = round(placing.total / placing.result.possible_points * 100)
    assert f"{share} percent of the points" in text
    assert "above the middle" in text
    assert "Running gear</th>" in text


def test_without_an_outfit_kept_the_wagons_name_holds_its_shows_together(exhibitor: Person):
    first, second = year(2025, exhibitor), year(2026, exhibitor)
    Entry.objects.filter(pk=first.pk).update(wagon_name="tin  SPARROW")
    Entry.objects.filter(pk=second.pk).update(wagon_name="Tin Sparrow")
    assert read(exhibitor).count("<h2") == 1
    Entry.objects.filter(pk=second.pk).update(wagon_name="Copper Moth")
    assert read(exhibitor).count("<h2") == 2


def test_nothing_unreleased_and_nothing_of_others_stands_there(
    exhibitor: Person, other_exhibitor: Person
):
    year(2026, exhibitor, released=False)
    year(2025, other_exhibitor)
    text = read(exhibitor)
    assert "Days 2026" in text
    assert "place in" not in text
    assert "percent" not in text.split("Shares are percent")[0]
    assert "Days 2025" not in text


def test_papers_of_released_results_are_there_to_fetch(exhibitor: Person):
    entry = year(2026, exhibitor)
    result = Placing.objects.get(entry=entry).result
    paper = Paper.objects.create(
        show=entry.show, kind="feedback", show_class=result.show_class, entry=entry, result=result,
        version=1, state=Paper.State.DONE, code="CODE", wanted_at=NOW, file="papers/sheet.pdf",
        content_hash="0" * 64,
    )  # fmt: skip
    address = reverse("reports:paper-file", args=[paper.pk])
    assert address in read(exhibitor)
    result.replaced_at = NOW
    result.save()
    assert address not in read(exhibitor)


def test_an_outfit_without_a_show_and_a_person_without_an_outfit(
    exhibitor: Person, stranger: Person
):
    Outfit.objects.create(exhibitor=exhibitor, wagon_name="New Paint", kept_at=NOW, **RIGS[0])
    assert "No show yet." in read(exhibitor)
    assert "You have not entered a wagon yet." in read(stranger)


def test_a_wagon_alone_in_its_class_has_nobody_beside_it(exhibitor: Person):
    show = stage.show(slug="alone")
    stage.released_class(show, stage.scorecard(show, n_sections=1), n_entries=1)
    Entry.objects.filter(show=show).update(exhibitor=exhibitor)
    text = read(exhibitor)
    assert "alone in the class" in text
    assert "level with the middle" not in text


def test_more_wagons_of_others_ask_no_more_of_the_database(
    exhibitor: Person, django_assert_max_num_queries
):
    year(2026, exhibitor)
    client = Client()
    client.force_login(exhibitor)
    EntryFactory.create_batch(6, show=Entry.objects.filter(exhibitor=exhibitor)[0].show)
    with django_assert_max_num_queries(22):
        client.get(reverse("reports:my-outfits"))
