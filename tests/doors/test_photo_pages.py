"""The office's list of judges' photos: who opens it, what it says, how one is removed."""

from __future__ import annotations

from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from judging.actions.keep_photo import keep_photo
from judging.models import RoundPhoto
from judging.web import photos as page
from showrun.shows.actions.plan_show import give_role
from showrun.shows.models import AuditEntry, Person, Show
from showrun.shows.rules.access import Role
from tests.http_phone import first_entry
from tests.judged_show import (
    AT,
    build_show,
    draw_panel,
    entry_of,
    judge_of,
    office_of,
    pair,
    rows_of,
    steward_of,
)
from tests.people import PersonFactory
from tests.pictures import picture
from tests.remembered import remembered

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def files(settings: Any, tmp_path: Path) -> Path:
    settings.MEDIA_ROOT = tmp_path
    return tmp_path


@pytest.fixture
@remembered
def show() -> Show:
    show = build_show()
    draw_panel(show)
    return show


def take(show: Show, code: str = "J1", **more: Any) -> RoundPhoto:
    judge = judge_of(show, code)
    device = judge.devices.first() or pair(judge)[0]
    told = {"photo_id": uuid4(), "entry_id": first_entry(judge).pk, "sent": picture(), "at": AT}
    return keep_photo(device=device, **{**told, **more}).photo


def as_person(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def listed(show: Show) -> str:
    return f"/shows/{show.slug}/office/photos/"


def test_the_page_lists_photos_by_wagon_with_row_judge_and_time(show: Show):
    judge = judge_of(show, "J1")
    later = judge.seats.order_by("-entry__number").select_related("entry")[0].entry
    row = rows_of(judge, first_entry(judge))[0]
    take(show, entry_id=later.pk)
    take(show, criterion=row.code)
    text = as_person(office_of(show)).get(listed(show)).content.decode()
    assert "2 photos" in text
    assert row.name in text
    assert "The whole wagon" in text
    assert judge.person.name in text
    assert "May 15, 9:00 AM" in text
    first = first_entry(judge)
    assert first != later
    assert text.index(f"<bdi>{first}</bdi>") < text.index(f"<bdi>{later}</bdi>")


def test_it_says_what_a_photo_is_not(show: Show):
    text = as_person(steward_of(show)).get(listed(show)).content.decode()
    for words in ("never part of a score", "no safety inspection", "no people’s faces"):
        assert words in text
    assert "No judge has sent a photo" in text


def test_long_lists_go_over_several_pages(show: Show, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(page, "PHOTOS_A_PAGE", 2)
    kept = [take(show) for _ in range(5)]
    client = as_person(office_of(show))
    seen = ""
    for number in (1, 2, 3):
        text = client.get(listed(show), {"page": number}).content.decode()
        assert f"Page {number} of 3" in text
        seen += text
    assert all(f'id="photo-{photo.pk}"' in seen for photo in kept)
    assert client.get(listed(show), {"page": "x"}).status_code == 200


def test_the_list_asks_the_database_no_more_for_many_photos(
    show: Show,
):
    client = as_person(office_of(show))
    take(show)
    with CaptureQueriesContext(connection) as for_one:
        client.get(listed(show))
    for code in ("J1", "J3", "J4"):
        take(show, code)
    with CaptureQueriesContext(connection) as for_four:
        client.get(listed(show))
    assert len(for_four) == len(for_one)


def test_a_photo_opens_in_the_browser_and_is_kept_nowhere(show: Show):
    photo = take(show)
    for person in (office_of(show), steward_of(show)):
        answered = as_person(person).get(f"/photos/{photo.pk}/")
        assert answered.status_code == 200
        assert answered["Content-Type"] == "image/jpeg"
        assert answered["Content-Disposition"].startswith("inline")
        assert answered["X-Content-Type-Options"] == "nosniff"
        assert answered["Cache-Control"] == "private, no-store"
        image = b"".join(answered.streaming_content)  # type: ignore[attr-defined]
        assert len(image) == photo.size_bytes


def test_nobody_else_sees_a_photo_nor_that_there_are_any(show: Show):
    photo = take(show)
    elsewhere = build_show(slug="other-ground", n_entries=1, n_judges=1)
    announcer = PersonFactory.create()
    give_role(show=show, person=announcer, role=Role.ANNOUNCER)
    visitors = {
        Client(): 404,
        as_person(PersonFactory.create()): 404,
        as_person(office_of(elsewhere)): 404,
        as_person(announcer): 403,
        as_person(entry_of(show, 1).exhibitor): 403,
        as_person(photo.judge.person): 403,
    }
    for visitor, status in visitors.items():
        assert visitor.get(f"/photos/{photo.pk}/").status_code == status
        assert visitor.get(listed(show)).status_code == status
        gone = visitor.post(f"/photos/{photo.pk}/remove/", {"reason": "Mine."})
        assert gone.status_code == status
    assert RoundPhoto.objects.count() == 1


def test_no_page_of_an_exhibitor_or_the_public_speaks_of_photos(show: Show):
    photo = take(show)
    owner = as_person(photo.entry.exhibitor)
    for address in (f"/entries/{photo.entry.pk}/", f"/shows/{show.slug}/", "/"):
        answered = owner.get(address)
        assert answered.status_code == 200
        assert str(photo.pk) not in answered.content.decode()
        assert "office/photos" not in answered.content.decode()


def test_a_lost_file_gives_a_page_that_says_so(show: Show, files: Path):
    photo = take(show)
    Path(photo.file.path).unlink()
    answered = as_person(office_of(show)).get(f"/photos/{photo.pk}/")
    assert answered.status_code == 404
    assert "lost" in answered.content.decode()


# --- Removing ------------------------------------------------------------------------------


def test_the_office_removes_a_photo_with_a_reason(
    show: Show, files: Path, django_capture_on_commit_callbacks: Any
):
    photo = take(show)
    client = as_person(office_of(show))
    with django_capture_on_commit_callbacks(execute=True):
        answered = client.post(
            f"/photos/{photo.pk}/remove/", {"reason": "Shows a child.", "page": "1"}, follow=True
        )
    assert answered.redirect_chain == [(f"{listed(show)}?page=1", 302)]
    assert "Removed." in answered.content.decode()
    assert not RoundPhoto.objects.exists()
    assert [path for path in files.rglob("*") if path.is_file()] == []
    record = client.get(f"/shows/{show.slug}/office/record/").content.decode()
    assert "Shows a child." in record
    assert f"Removed a photo by {photo.judge}" in record
    assert client.post(f"/photos/{photo.pk}/remove/", {"reason": "x"}).status_code == 404


def test_without_a_reason_it_stays_and_the_form_says_why(show: Show):
    photo, other = take(show), take(show)
    answered = as_person(office_of(show)).post(f"/photos/{photo.pk}/remove/", {"reason": " "})
    text = answered.content.decode()
    assert answered.status_code == 422
    assert f'id="reason-fault-{photo.pk}"' in text
    assert f'id="reason-fault-{other.pk}"' not in text
    assert RoundPhoto.objects.count() == 2
    assert not AuditEntry.objects.filter(verb="removed").exists()


def test_a_steward_sees_photos_and_removes_none(show: Show):
    photo = take(show)
    client = as_person(steward_of(show))
    text = client.get(listed(show)).content.decode()
    assert f"/photos/{photo.pk}/" in text
    assert f"/photos/{photo.pk}/remove/" not in text
    answered = client.post(f"/photos/{photo.pk}/remove/", {"reason": "Blurred."})
    assert answered.status_code == 403
    assert RoundPhoto.objects.exists()


def test_the_offices_pages_lead_there(show: Show):
    client = as_person(office_of(show))
    for where in ("progress", "record"):
        text = client.get(f"/shows/{show.slug}/office/{where}/").content.decode()
        assert f'href="{listed(show)}"' in text
