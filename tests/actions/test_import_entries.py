"""A list of entries is looked at first, and taken whole or not at all."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest

from entries.actions.enter import enter
from entries.actions.export_entries import blank_list, export_entries
from entries.actions.import_entries import leave_list, read_list, take_list
from entries.models import CrewMember, Entry, EntryImport
from entries.queries.entry_lists import entry_rows_of, list_to_take, preview_of
from entries.rules.entry_sheet import COLUMNS, HEADINGS
from entries.rules.places import Status
from entries.rules.sheet_reading import read_sheet
from entries.rules.sheet_writing import csv_file
from showrun.errors import Conflict, InvalidInput
from showrun.shows.models import AuditEntry, Person, Show
from tests.people import RIG, EntryFactory, ShowClassFactory, ShowFactory

pytestmark = pytest.mark.django_db

KEYS = [column.key for column in COLUMNS if column.read]


@pytest.fixture
def at() -> datetime:
    """Two weeks before the show."""
    return datetime.fromisoformat("2127-05-01T15:00:00+00:00")


def cells(n: int = 1, **other: str) -> dict[str, str]:
    return {
        "wagon_name": f"Wagon {n}",
        "exhibitor_name": f"Cook {n}",
        "exhibitor_email": f"cook{n}@showrun.example",
        **RIG,
        "classes": "trail",
        "crew_1": "Ada Moor",
        "crew_1_part": "head cook",
        "crew_2": "Bo Oak",
        "crew_2_part": "cook",
        **other,
    }


def file_of(*rows: dict[str, str]) -> bytes:
    headings = [HEADINGS[key] for key in KEYS]
    return csv_file([headings, *([row.get(key, "") for key in KEYS] for row in rows)])


def read(show: Show, by: Person, at: datetime, *rows: dict[str, str]) -> EntryImport:
    return read_list(show=show, file_name="list.csv", data=file_of(*rows), by=by, at=at)


def counted() -> dict[str, int]:
    return {
        model.__name__: model.objects.count() for model in (Entry, CrewMember, Person, AuditEntry)
    }


# --- Reading --------------------------------------------------------------------------------


def test_reading_a_list_enters_nothing(show: Show, office: Person, at: datetime):
    before = counted()
    kept = read(show, office, at, cells(1), cells(2))
    assert counted() == before
    assert (kept.state, kept.read_by, len(kept.sha256)) == ("read", office, 64)
    assert list_to_take(show, office) == kept


def test_only_our_columns_are_kept(show: Show, office: Person, at: datetime):
    headings = [HEADINGS[key] for key in KEYS]
    row = cells()
    data = csv_file(
        [[*headings, "Blood type"], [*(row.get(key, "") for key in KEYS), "0 negative"]]
    )
    kept = read_list(show=show, file_name="list.csv", data=data, by=office, at=at)
    assert "negative" not in str(kept.rows)
    assert preview_of(kept).heads.unknown == ("Blood type",)


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ([["Wagon"], ["x"]], "Missing: Exhibitor, E-mail, Tongue"),
        ([[HEADINGS[key] for key in KEYS]], "no row below"),
        ([[HEADINGS[key] for key in [*KEYS, "outfit"]], ["x"]], "twice: Outfit"),
        ([[HEADINGS[key] for key in KEYS], ["x"] * 40], "Row 2 has more cells"),
    ],
)
def test_a_list_without_its_columns_is_refused(
    show: Show, office: Person, at: datetime, rows: list[list[str]], said: str
):
    with pytest.raises(InvalidInput, match=said):
        read_list(show=show, file_name="list.csv", data=csv_file(rows), by=office, at=at)
    assert not EntryImport.objects.exists()


def test_the_next_list_replaces_the_one_before(show: Show, office: Person, at: datetime):
    first = read(show, office, at, cells(1))
    second = read(show, office, at, cells(2))
    first.refresh_from_db()
    assert (first.state, first.rows) == ("left", [])
    assert list_to_take(show, office) == second


# --- Taking ---------------------------------------------------------------------------------


def test_a_list_is_entered_in_its_order_the_last_ones_wait(
    show: Show, office: Person, at: datetime
):
    kept = read(show, office, at, *(cells(n) for n in (5, 4, 3, 2, 1)))
    looked = preview_of(kept)
    assert (looked.faults, looked.with_place, looked.waiting) == ((), 3, 2)
    entries = take_list(read=kept, by=office, at=at)
    assert [entry.wagon_name for entry in entries] == [f"Wagon {n}" for n in (5, 4, 3, 2, 1)]
    assert [entry.status for entry in entries] == ["entered"] * 3 + ["waiting"] * 2
    assert [entry.pk for entry in entries] == sorted(entry.pk for entry in entries)
    kept.refresh_from_db()
    assert kept.state == "taken"


def test_what_the_list_says_is_what_is_entered(show: Show, office: Person, at: datetime):
    row = cells(
        outfit="Oak Ranch", history="Two\nlines", classes="Ranch wagon; trail", hitch="six-up"
    )
    (entry,) = take_list(read=read(show, office, at, row), by=office, at=at)
    assert (entry.outfit, entry.history, entry.hitch) == ("Oak Ranch", "Two\nlines", "six_up")
    assert {one.show_class.code for one in entry.classes.all()} == {"trail", "ranch"}
    assert [(one.name, one.role) for one in entry.crew.all()] == [
        ("Ada Moor", "head_cook"),
        ("Bo Oak", "cook"),
    ]
    assert entry.exhibitor.email == "cook1@showrun.example"
    assert not entry.exhibitor.has_usable_password()
    assert entry.exhibitor.last_login is None


def test_a_person_who_is_known_stays_who_they_are(
    show: Show, office: Person, exhibitor: Person, at: datetime
):
    row = cells(exhibitor_email="EDNA@showrun.example", exhibitor_name="E. Cook")
    (entry,) = take_list(read=read(show, office, at, row), by=office, at=at)
    assert entry.exhibitor == exhibitor
    exhibitor.refresh_from_db()
    assert exhibitor.name == "Edna Cook"


def test_one_bad_row_of_forty_and_nothing_is_taken(show: Show, office: Person, at: datetime):
    rows = [cells(n) for n in range(40)]
    rows[37]["hitch"] = "nine up"
    kept = read(show, office, at, *rows)
    before = counted()
    with pytest.raises(InvalidInput, match="Row 39, Hitch"):
        take_list(read=kept, by=office, at=at)
    assert counted() == before
    kept.refresh_from_db()
    assert kept.state == "read"


def test_a_refusal_half_way_takes_back_all(
    show: Show, office: Person, at: datetime, monkeypatch: pytest.MonkeyPatch
):
    kept = read(show, office, at, *(cells(n) for n in range(5)))
    before, calls = counted(), []

    def third_fails(**told: Any) -> Entry:
        calls.append(told["wagon_name"])
        if len(calls) == 3:
            raise InvalidInput("No.", fields={"crew": "Too late."})
        return enter(**told)

    monkeypatch.setattr("entries.actions.import_entries.enter", third_fails)
    with pytest.raises(InvalidInput, match="Row 4: Too late"):
        take_list(read=kept, by=office, at=at)
    assert len(calls) == 3
    assert counted() == before


def test_the_list_is_judged_again_when_it_is_taken(
    show: Show, office: Person, exhibitor: Person, at: datetime
):
    kept = read(show, office, at, cells(exhibitor_email=exhibitor.email, wagon_name="Tin Sparrow"))
    assert preview_of(kept).faults == ()
    EntryFactory.create(show=show, exhibitor=exhibitor, wagon_name="TIN sparrow")
    with pytest.raises(InvalidInput, match="has entered this wagon already"):
        take_list(read=kept, by=office, at=at)


def test_a_scratched_wagon_may_come_back(
    show: Show, office: Person, exhibitor: Person, at: datetime
):
    EntryFactory.create(
        show=show, exhibitor=exhibitor, wagon_name="Tin Sparrow", status=Status.SCRATCHED.value
    )
    row = cells(exhibitor_email=exhibitor.email, wagon_name="Tin Sparrow")
    assert len(take_list(read=read(show, office, at, row), by=office, at=at)) == 1


def test_the_same_list_twice_names_each_row(show: Show, office: Person, at: datetime):
    rows = [cells(n) for n in (1, 2)]
    taken = read(show, office, at, *rows)
    take_list(read=taken, by=office, at=at)
    with pytest.raises(Conflict, match="taken already"):
        take_list(read=taken, by=office, at=at)
    again = preview_of(read(show, office, at, *rows))
    assert [(one.line, one.column) for one in again.faults] == [(2, "Wagon"), (3, "Wagon")]
    assert Entry.objects.filter(show=show).count() == 2


def test_leaving_a_list_forgets_it(show: Show, office: Person, at: datetime):
    kept = read(show, office, at, cells())
    leave_list(read=kept, by=office, at=at)
    kept.refresh_from_db()
    assert (kept.state, kept.rows, kept.settled_at) == ("left", [], at)
    with pytest.raises(Conflict, match="left already"):
        take_list(read=kept, by=office, at=at + timedelta(minutes=1))
    assert list_to_take(show, office) is None


def test_the_record_says_who_left_which_list(show: Show, office: Person, at: datetime):
    kept = read(show, office, at, cells())
    leave_list(read=kept, by=office, at=at)
    line = AuditEntry.objects.get(verb="left a list of entries")
    assert (line.actor, line.subject) == (office, "list list.csv")
    assert line.after == {"sha256": kept.sha256}


def test_the_record_says_who_took_which_list(show: Show, office: Person, at: datetime):
    kept = read(show, office, at, cells(1), cells(2))
    entries = take_list(read=kept, by=office, at=at)
    line = AuditEntry.objects.get(verb="took a list of entries")
    assert (line.actor, line.subject) == (office, "list list.csv")
    assert line.after == {
        "rows": 2,
        "sha256": kept.sha256,
        "entries": [entry.pk for entry in entries],
    }


# --- Out, and in again ----------------------------------------------------------------------


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_a_list_taken_out_comes_in_at_another_show_as_it_was(
    show: Show, office: Person, at: datetime, form: str
):
    rows = [
        cells(1, outfit="=Ranch", history="@home\n\n- one\n- two", hitch="four_up"),
        cells(2, wagon_name='\'=Odd; "Name", Ñ', classes="ranch; trail", outfit="-C",
              under_age="2", frontage_ft="50", dietary_notes="No nuts."),
    ]  # fmt: skip
    take_list(read=read(show, office, at, *rows), by=office, at=at)
    data = export_entries(show=show, form=form, by=office, at=at)
    other = ShowFactory.create(slug="other")
    for code in ("trail", "ranch"):
        ShowClassFactory.create(show=other, code=code)
    kept = read_list(show=other, file_name=f"list.{form}", data=data, by=office, at=at)
    assert preview_of(kept).faults == ()
    take_list(read=kept, by=office, at=at)
    assert entry_rows_of(other) == entry_rows_of(show)
    assert len(entry_rows_of(show)) == 3


def test_the_list_says_all_the_office_knows(
    show: Show, office: Person, other_entry: Entry, at: datetime
):
    other_entry.dietary_notes, other_entry.emergency_phone = "No nuts.", "+1 303 555 0100"
    other_entry.save()
    other_entry.crew.filter(role="cook").update(under_age=True)
    data = export_entries(show=show, form="csv", by=office, at=at)
    heads, row = (line.cells for line in read_sheet(data))
    said = dict(zip(heads, row, strict=False))
    assert (said["No."], said["Wagon"], said["Status"]) == ("1", "Copper Moth", "confirmed")
    assert (said["E-mail"], said["Camp spot"]) == ("otto@showrun.example", "1")
    assert (said["Hitch"], said["Crew 1 part"]) == ("team of two", "head cook")
    assert said["Emergency phone"] == "+1 303 555 0100"
    assert b"'+1 303" in data
    assert said["Crew under age"] == "2"


def test_taking_a_list_out_is_noted(show: Show, office: Person, entry: Entry, at: datetime):
    export_entries(show=show, form="csv", by=office, at=at)
    line = AuditEntry.objects.get(verb="took out the list of entries")
    assert (line.actor, line.after) == (office, {"rows": 1})
    with pytest.raises(InvalidInput):
        export_entries(show=show, form="ods", by=office, at=at)


def test_a_blank_list_filled_in_is_taken(show: Show, office: Person, at: datetime):
    (heads,) = read_sheet(blank_list(show=show, form="xlsx", at=at))
    row = cells()
    by_heading = {HEADINGS[key]: value for key, value in row.items()}
    data = csv_file([heads.cells, [by_heading.get(name, "") for name in heads.cells]])
    kept = read_list(show=show, file_name="filled.csv", data=data, by=office, at=at)
    assert len(take_list(read=kept, by=office, at=at)) == 1


def test_the_queries_of_a_list_do_not_grow_with_it(show: Show, django_assert_max_num_queries: Any):
    for _ in range(8):
        EntryFactory.create(show=show, classes=list(show.classes.all()))
    with django_assert_max_num_queries(7):
        assert len(entry_rows_of(show)) == 9
