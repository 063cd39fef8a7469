"""The office's page of the archive: what it says, what it hands out, and when it does not."""

from __future__ import annotations

import hashlib
import io
import zipfile

import pytest
from django.test import Client

from reports.rules.archive import read_manifest
from showrun.shows.models import AuditEntry, Person, Show
from tests.food_stage import drawn
from tests.judged_show import build_show, office_of, steward_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def show() -> Show:
    return build_show(n_entries=2, n_judges=2, kin=False)


def as_person(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def address(show: Show) -> str:
    return f"/shows/{show.slug}/office/archive/"


def test_the_page_says_what_goes_in_what_stays_out_and_how_it_comes_back(show: Show) -> None:
    page = as_person(office_of(show)).get(address(show)).content.decode()
    for words in ("It holds personal data", "Passwords, passkeys", "restore_show three-kettles.zip",
                  "not on a page", "Download the archive"):  # fmt: skip
        assert words in page


def test_the_office_downloads_an_archive_and_the_record_says_so(show: Show) -> None:
    answer = as_person(office_of(show)).post(address(show))
    assert answer["Content-Type"] == "application/zip"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Content-Disposition"] == 'attachment; filename="three-kettles.zip"'
    data = b"".join(answer)
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        assert packed.testzip() is None
        told = read_manifest(packed.read("manifest.json"))
    assert (told.slug, told.tables["entries.entry"]) == (show.slug, 2)
    line = AuditEntry.objects.filter(show=show).latest("pk")
    assert (line.verb, line.actor) == ("took out", office_of(show))
    assert line.after == {"sha256": hashlib.sha256(data).hexdigest(), "rows": told.rows}


def test_nobody_but_the_office_takes_a_show_out(show: Show) -> None:
    lines = AuditEntry.objects.filter(show=show).count()
    assert as_person(steward_of(show)).post(address(show)).status_code == 403
    assert Client().post(address(show)).status_code in (302, 404)
    assert AuditEntry.objects.filter(show=show).count() == lines


def test_a_closed_key_is_said_and_nothing_is_handed_out(show: Show) -> None:
    drawn(show)
    client = as_person(office_of(show))
    page = client.get(address(show)).content.decode()
    assert "1 is still closed" in page and "Download the archive" not in page
    answer = client.post(address(show), follow=True)
    assert "once the key of every round" in answer.content.decode()
    assert not AuditEntry.objects.filter(show=show, verb="took out").exists()
