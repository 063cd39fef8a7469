"""The office's pages for whole lists: a file in, looked at, taken; the list out."""

from __future__ import annotations

import io
import zipfile
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from entries.models import Entry, EntryImport
from entries.rules.sheet_reading import LARGEST_FILE, read_sheet
from entries.rules.sheet_writing import csv_file
from showrun.shows.models import AuditEntry, Person, Show
from tests.people import RIG, ShowFactory

pytestmark = pytest.mark.django_db

HEAD = [
    *("Wagon", "Exhibitor", "E-mail", "Tongue", "Hitch", "Draft", "Harness pattern", "Holdback"),
    *("Classes", "Crew 1", "Crew 1 part", "Crew 2", "Crew 2 part"),
]


def line(wagon: str = "Tin Sparrow", email: str = "edna@showrun.example", **rig: str) -> list[str]:
    facts = {**RIG, **rig}
    crew = ["Ada Moor", "head cook", "Bo Oak", "cook"]
    return [wagon, "Edna Cook", email, *facts.values(), "trail", *crew]


def page(show: Show) -> str:
    return reverse("entries:import", args=[show.slug])


def send(client: Client, show: Show, data: bytes, name: str = "list.csv", **kind: Any) -> Any:
    return client.post(page(show), {"do": "read", "file": SimpleUploadedFile(name, data)}, **kind)


@pytest.fixture
def inside(client: Client, office: Person) -> Client:
    """The office, signed in."""
    client.force_login(office)
    return client


def test_a_list_is_looked_at_and_then_taken(inside: Client, show: Show):
    answer = send(inside, show, csv_file([HEAD, line(), line("Copper Moth")]))
    assert (answer.status_code, answer["Location"]) == (302, page(show))
    assert not Entry.objects.exists()
    text = inside.get(page(show)).content.decode()
    assert "Every row can be taken. 2 wagons get places." in text
    assert "Take all 2 rows" in text
    assert "drop tongue" in text
    read = EntryImport.objects.get()
    done = inside.post(page(show), {"do": "take", "list": read.pk}, follow=True)
    assert "The list is taken: 2 wagons have places." in done.content.decode()
    assert Entry.objects.filter(show=show).count() == 2


def test_each_fault_is_named_by_row_and_column_and_bars_the_list(inside: Client, show: Show):
    send(inside, show, csv_file([HEAD, line(), line("Other", hitch="nine up")]))
    text = inside.get(page(show)).content.decode()
    assert "<title>Error: " in text
    assert "1 row needs mending" in text
    assert '<a href="#row-3">Row 3, Hitch</a>' in text
    assert 'id="row-3"' in text
    assert 'value="take"' not in text
    answer = inside.post(page(show), {"do": "take", "list": EntryImport.objects.get().pk})
    assert answer.status_code == 422
    assert "Nothing was taken. Row 3, Hitch" in answer.content.decode()
    assert not Entry.objects.exists()


def test_columns_that_are_not_ours_are_named(inside: Client, show: Show):
    send(inside, show, csv_file([[*HEAD, "<b>Shoe</b>", "No."], [*line(), "9", "4"]]))
    text = inside.get(page(show)).content.decode()
    assert "the column “&lt;b&gt;Shoe&lt;/b&gt;”" in text
    assert "Left to the office, and not read from a list: No." in text


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "The file is empty"),
        (b"Wagon\nx\n", "Missing: Exhibitor, E-mail"),
        (b"%PDF-1.7 \x00\x01", "no list we can read"),
        (b"\xd0\xcf\x11\xe0" + bytes(100), "password"),
        (b"PK\x03\x04nonsense", "cannot be read"),
        (b"a" * (LARGEST_FILE + 1), "larger than 1 MB"),
    ],
    ids=["empty", "headings", "pdf", "old", "broken", "large"],
)
def test_a_file_that_is_no_list_gets_a_sentence(inside: Client, show: Show, data: bytes, said: str):
    answer = send(inside, show, data)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not EntryImport.objects.exists()


def test_macros_by_any_name_are_refused(inside: Client, show: Show):
    kept = io.BytesIO()
    with zipfile.ZipFile(kept, "w") as book:
        book.writestr("xl/vbaProject.bin", b"x")
    answer = send(inside, show, kept.getvalue(), "list.xlsx")
    assert answer.status_code == 422
    assert "macros" in answer.content.decode()


def test_no_file_and_no_deed(inside: Client, show: Show):
    assert "Choose a file first." in inside.post(page(show), {"do": "read"}).content.decode()
    assert inside.post(page(show), {}).status_code == 422


def test_the_office_is_told_who_waits(inside: Client, show: Show):
    send(inside, show, csv_file([HEAD, *(line(f"Wagon {n}") for n in range(5))]))
    text = inside.get(page(show)).content.decode()
    assert "3 wagons get places; 2 wagons go to the wait list, in the order of the file." in text
    read = EntryImport.objects.get()
    done = inside.post(page(show), {"do": "take", "list": read.pk}, follow=True)
    assert "3 wagons have places and 2 are on the wait list." in done.content.decode()


def test_a_list_is_left(inside: Client, show: Show):
    send(inside, show, csv_file([HEAD, line()]))
    read = EntryImport.objects.get()
    done = inside.post(page(show), {"do": "leave", "list": read.pk}, follow=True)
    assert "nothing of it was entered" in done.content.decode()
    assert "Take all" not in done.content.decode()


def test_a_list_is_taken_once(inside: Client, show: Show):
    send(inside, show, csv_file([HEAD, line()]))
    read = EntryImport.objects.get()
    inside.post(page(show), {"do": "take", "list": read.pk})
    again = inside.post(page(show), {"do": "take", "list": read.pk})
    assert again.status_code == 409
    assert Entry.objects.count() == 1


def test_a_list_of_another_show_is_not_there(inside: Client, show: Show, office: Person, at: Any):
    other = ShowFactory.create()
    theirs = EntryImport.objects.create(show=other, sha256="0" * 64, read_at=at, read_by=office)
    for number in (theirs.pk, 0, "x", "9" * 30, "²"):
        answer = inside.post(page(show), {"do": "take", "list": number})
        assert answer.status_code == 404, number


def test_a_show_that_takes_no_entries_takes_no_list(inside: Client, show: Show):
    send(inside, show, csv_file([HEAD, line()]))
    show.starts_on, show.ends_on = (
        show.starts_on.replace(year=2020),
        show.ends_on.replace(year=2020),
    )
    show.save()
    answer = inside.post(page(show), {"do": "take", "list": EntryImport.objects.get().pk})
    assert answer.status_code == 410
    assert not Entry.objects.exists()


def test_hostile_cells_stay_words(inside: Client, show: Show):
    bad = ["<script>alert(1)</script>", "=cmd|' /C calc'!A0", "x@y", *RIG.values()]
    bad += ["<i>", *"abcd"]
    send(inside, show, csv_file([HEAD, bad]), "<img src=x>.csv")
    text = inside.get(page(show)).content.decode()
    assert "<script>alert" not in text and "<img src=x>" not in text and "<i>" not in text
    assert "&lt;script&gt;" in text


# --- Out ------------------------------------------------------------------------------------


def test_the_list_goes_out_in_both_forms(inside: Client, show: Show, entry: Entry):
    address = reverse("entries:export", args=[show.slug])
    for form, kind in (("csv", "text/csv; charset=utf-8"), ("xlsx", "application/vnd.openxml")):
        answer = inside.get(address, {"form": form})
        assert answer["Content-Type"].startswith(kind)
        assert (
            answer["Content-Disposition"] == f'attachment; filename="lantern-draw-entries.{form}"'
        )
        assert "no-store" in answer["Cache-Control"]
        heads, row = read_sheet(answer.content)
        assert row.cells[heads.cells.index("Wagon")] == "Tin Sparrow"
    assert AuditEntry.objects.filter(verb="took out the list of entries").count() == 2


def test_a_blank_list_holds_headings_alone_and_is_not_noted(
    inside: Client, show: Show, entry: Entry
):
    address = reverse("entries:export", args=[show.slug])
    for form in ("csv", "xlsx"):
        (heads,) = read_sheet(inside.get(address, {"form": form, "blank": "1"}).content)
        assert set(HEAD) <= set(heads.cells)
        assert "Status" not in heads.cells
    assert not AuditEntry.objects.filter(verb="took out the list of entries").exists()


def test_no_other_form(inside: Client, show: Show):
    assert (
        inside.get(reverse("entries:export", args=[show.slug]), {"form": "exe"}).status_code == 422
    )
