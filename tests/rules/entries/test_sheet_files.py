"""Lists written and read back, in every form and encoding; and files made to do harm."""

from __future__ import annotations

import csv
import io
import zipfile
from contextlib import suppress
from datetime import UTC, datetime

import openpyxl  # type: ignore[import-untyped]
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from entries.rules.sheet_reading import (
    LARGEST_FILE,
    LAST_LINE,
    MOST_ROWS,
    UnreadableSheet,
    read_sheet,
)
from entries.rules.sheet_writing import csv_file, xlsx_file

AT = datetime(2127, 5, 1, 12, tzinfo=UTC)
HEAD = ["Wagon", "Exhibitor", "E-mail"]
ROWS = [HEAD, ["Tin, “Sparrow”", "Édna Moor", "edna@showrun.example"], ["Two\nlines", "x", "=1+1"]]
CELL = st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs")), max_size=20)


def as_text(rows: list[list[str]], separator: str = ",") -> str:
    kept = io.StringIO(newline="")
    csv.writer(kept, delimiter=separator, quoting=csv.QUOTE_ALL).writerows(rows)
    return kept.getvalue()


def cells(data: bytes) -> list[list[str]]:
    return [list(row.cells) for row in read_sheet(data)]


def refusal(data: bytes) -> str:
    with pytest.raises(UnreadableSheet) as caught:
        read_sheet(data)
    return str(caught.value)


# --- What goes in comes out -----------------------------------------------------------------


def test_a_list_comes_back_from_both_forms() -> None:
    assert cells(csv_file(ROWS)) == ROWS
    assert cells(xlsx_file(ROWS, title="List", at=AT)) == ROWS


@given(st.lists(st.lists(CELL, min_size=3, max_size=3), min_size=1, max_size=4))
def test_any_text_comes_back(rows: list[list[str]]) -> None:
    said = [[text.strip() for text in row] for row in rows]
    there = [row for row in said if any(row)]
    data = csv_file([HEAD, *rows])
    read = [row + [""] * (3 - len(row)) for row in cells(data)[1:]]
    assert read == there


def test_csv_is_what_the_rfc_says() -> None:
    data = csv_file([["a", 'b "c"'], ["1,5", 3], [None, "=x"]])
    assert data == b"\xef\xbb\xbf" + b'a,"b ""c"""\r\n"1,5",3\r\n,\'=x\r\n'


def test_texts_of_a_workbook_are_texts_and_numbers_numbers() -> None:
    data = xlsx_file([["No.", "Name"], [12, "0012"], [7, "=1+1"]], title="A/B:c", at=AT)
    sheet = openpyxl.load_workbook(io.BytesIO(data)).worksheets[0]
    assert sheet.title == "ABc"
    assert [cell.value for cell in sheet[2]] == [12, "0012"]
    assert (sheet["B3"].data_type, sheet["B3"].value) == ("s", "'=1+1")
    assert (sheet["B2"].data_type, sheet["B2"].number_format) == ("s", "@")
    assert sheet["A2"].data_type == "n"
    assert sheet.freeze_panes == "A2"


def test_a_workbook_drops_signs_it_cannot_hold() -> None:
    assert cells(xlsx_file([["a\x07b"]], title="List", at=AT)) == [["ab"]]


# --- Encodings and separators ---------------------------------------------------------------


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"]
)
def test_what_spreadsheets_save_is_read(separator: str, encoding: str) -> None:
    assert cells(as_text(ROWS, separator).encode(encoding)) == ROWS


def test_a_comma_in_the_cells_does_not_make_it_the_separator() -> None:
    assert cells(b"Wagon;E-mail\na,b,c;d\n") == [["Wagon", "E-mail"], ["a,b,c", "d"]]


@pytest.mark.parametrize(("told", "sign"), [("sep=;", ";"), ("sep=\t", "\t"), ('"sep=;"', ";")])
def test_a_first_line_that_names_the_separator(told: str, sign: str) -> None:
    rows = read_sheet(f"{told}\r\nWagon{sign}b\r\n1{sign}2\r\n".encode())
    assert [(row.line, row.cells) for row in rows] == [(1, ("Wagon", "b")), (2, ("1", "2"))]


def test_rows_are_counted_as_a_spreadsheet_does() -> None:
    rows = read_sheet(b'Wagon\r\n\r\n"two\r\nlines"\r\nlast\r\n')
    assert [(row.line, row.cells) for row in rows] == [
        (1, ("Wagon",)),
        (3, ("two\nlines",)),
        (4, ("last",)),
    ]


def test_numbers_dates_and_truths_of_a_workbook() -> None:
    book = openpyxl.Workbook()
    book.active.append(["Wagon", 12.0, 1.5, datetime(2027, 5, 1), True, None, "=1+1"])
    kept = io.BytesIO()
    book.save(kept)
    # A formula nobody has reckoned has no value: its text is not taken for one.
    assert cells(kept.getvalue()) == [["Wagon", "12", "1.5", "2027-05-01", "yes"]]


# --- Files that are no lists ----------------------------------------------------------------


@pytest.mark.parametrize("data", [b"", b"  \r\n", b"\xef\xbb\xbf"])
def test_nothing_in_it(data: bytes) -> None:
    assert refusal(data)


@pytest.mark.parametrize(
    "data", [b"%PDF-1.7\n\x00\x01\x02", b"\x89PNG\r\n\x1a\n\x00", b"a\x81b\xffc", b"\xff\xfe\x00"]
)
def test_no_text(data: bytes) -> None:
    assert "no list" in refusal(data)


def test_an_old_or_locked_workbook() -> None:
    assert "password" in refusal(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600))


def test_too_large_too_many_too_wide_too_long() -> None:
    assert "1 MB" in refusal(b"a" * (LARGEST_FILE + 1))
    assert len(read_sheet(b"Wagon\n" + b"x\n" * MOST_ROWS)) == MOST_ROWS + 1
    assert f"{MOST_ROWS} rows" in refusal(b"Wagon\n" + b"x\n" * (MOST_ROWS + 1))
    assert "cells" in refusal(b"x," * 90 + b"x\n")
    assert "longer" in refusal(b"Wagon\n" + b"x" * 5001)


def test_a_quote_that_is_never_closed_is_named_by_its_row() -> None:
    assert refusal(b'Wagon,b\n1,2\n"3,4\n').startswith("After row 2,")


def parts_of(data: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(data)) as book:
        return {name: book.read(name) for name in book.namelist()}


def packed(parts: dict[str, bytes]) -> bytes:
    kept = io.BytesIO()
    with zipfile.ZipFile(kept, "w", zipfile.ZIP_DEFLATED) as book:
        for name, inside in parts.items():
            book.writestr(name, inside)
    return kept.getvalue()


@pytest.fixture(scope="module")
def parts() -> dict[str, bytes]:
    book = openpyxl.Workbook()
    book.active.append(HEAD)
    kept = io.BytesIO()
    book.save(kept)
    return parts_of(kept.getvalue())


def test_the_workbook_these_are_made_of_is_good(parts: dict[str, bytes]) -> None:
    assert cells(packed(parts)) == [HEAD]


def test_macros(parts: dict[str, bytes]) -> None:
    assert "macros" in refusal(packed({**parts, "xl/vbaProject.bin": b"x"}))
    kinds = parts["[Content_Types].xml"].replace(b"sheet.main+xml", b"sheet.macroEnabled.main+xml")
    assert "macros" in refusal(packed({**parts, "[Content_Types].xml": kinds}))


def test_a_part_that_unpacks_to_far_more(parts: dict[str, bytes]) -> None:
    bomb = packed({**parts, "xl/media/blank.bin": bytes(7_000_000)})
    assert len(bomb) < 50_000
    assert "larger" in refusal(bomb)


def test_a_part_that_lies_about_its_size(parts: dict[str, bytes]) -> None:
    sheet = "xl/worksheets/sheet1.xml"
    data = packed({**parts, sheet: parts[sheet] + b" " * 9_000_000})
    honest = (len(parts[sheet]) + 9_000_000).to_bytes(4, "little")
    assert data.count(honest) == 2  # before the part and in the list of parts
    assert "cannot be read" in refusal(data.replace(honest, (2000).to_bytes(4, "little")))


def test_many_parts(parts: dict[str, bytes]) -> None:
    assert "larger" in refusal(packed({**parts, **{f"x{n}": b"" for n in range(300)}}))


def test_a_password_on_the_parts(parts: dict[str, bytes]) -> None:
    data = bytearray(packed(parts))
    start = 0
    while (start := data.find(b"PK\x01\x02", start)) >= 0:
        data[start + 8] |= 1
        start += 4
    assert "password" in refusal(bytes(data))


BILLION = b"".join(
    [b'<!DOCTYPE x [<!ENTITY a "lol">']
    + [b'<!ENTITY %c "%s">' % (98 + n, b"&%c;" % (97 + n) * 10) for n in range(9)]
    + [b"]>"]
)


@pytest.mark.parametrize("part", ["xl/worksheets/sheet1.xml", "xl/workbook.xml", "xl/styles.xml"])
def test_names_within_names_and_files_of_this_machine(parts: dict[str, bytes], part: str) -> None:
    clean = parts[part].removeprefix(b'<?xml version="1.0"?>')
    for doctype in (BILLION, b'<!DOCTYPE x [<!ENTITY j SYSTEM "file:///etc/hostname">]>'):
        assert "cannot be read" in refusal(packed({**parts, part: doctype + b"\n" + clean}))


def test_a_sheet_that_says_it_goes_on_for_ever(parts: dict[str, bytes]) -> None:
    sheet = "xl/worksheets/sheet1.xml"
    far = b'<row r="1000000000000"><c r="A1000000000000"><v>1</v></c></row></sheetData>'
    data = packed({**parts, sheet: parts[sheet].replace(b"</sheetData>", far)})
    assert f"row {LAST_LINE}" in refusal(data)


@pytest.mark.parametrize("keep", [30, 200, 2000])
def test_a_workbook_cut_short_or_of_other_things(parts: dict[str, bytes], keep: int) -> None:
    assert "cannot be read" in refusal(packed(parts)[:keep])
    assert "cannot be read" in refusal(packed({"note.txt": b"no workbook"}))


@given(st.binary(max_size=300))
@example(b"a;b\nc;d")
def test_no_bytes_do_anything_else(data: bytes) -> None:
    for made in (data, b"PK\x03\x04" + data):
        with suppress(UnreadableSheet):
            assert all(any(row.cells) for row in read_sheet(made))
