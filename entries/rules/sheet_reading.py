"""Reads the cells of a list from a file of CSV or XLSX that anybody may have made."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime, time
from unicodedata import category

import openpyxl  # type: ignore[import-untyped]

from entries.rules.entry_sheet import matched
from entries.rules.sheet_cells import plain_cell
from showrun.language import gettext as _

LARGEST_FILE = 1_000_000  # bytes
LARGEST_UNPACKED = 6_000_000  # bytes, of all parts of a workbook
MOST_PARTS = 200  # of a workbook
MOST_ROWS = 400  # below the headings
LAST_LINE = 5000  # a sheet says itself at which row it goes on
MOST_COLUMNS = 80
LONGEST_CELL = 5000  # letters
SEPARATORS = ",;\t"
_OLD_OR_LOCKED = b"\xd0\xcf\x11\xe0"  # the container of .xls, and of .xlsx with a password
_ZIP = b"PK\x03\x04"


class UnreadableSheet(ValueError):
    """Why a file is not taken as a list, in a sentence."""


@dataclass(frozen=True)
class SheetRow:
    """One row with something in it; `line` counts as a spreadsheet does."""

    line: int
    cells: tuple[str, ...]


def read_sheet(data: bytes) -> list[SheetRow]:
    """Read the rows of a list; what the file is, its first bytes say, not its name.

    Parameters
    ----------
    data : bytes
        CSV parted by commas, semicolons or tabs in UTF-8, UTF-16 or Windows-1252; or a workbook
        in XLSX without macros and without a password, of which the first sheet counts.

    Returns
    -------
    list of SheetRow
        Rows that are not empty, the headings first; `safe_cell` is undone in each cell.

    Raises
    ------
    UnreadableSheet
        With a sentence that says what to do instead.

    Source
    ------
    RFC 4180 (quotes, records); ECMA-376, Open Packaging (a workbook is a ZIP of parts, from
    memory); limits and the choice of encodings: our own rule.

    Examples
    --------
    >>> read_sheet("Wagon;Exhibitor\\r\\n\\"Tin; Lantern\\";A. Moor\\r\\n".encode())[1].cells
    ('Tin; Lantern', 'A. Moor')
    """
    if not data.strip():
        raise UnreadableSheet(_("The file is empty."))
    if len(data) > LARGEST_FILE:
        raise UnreadableSheet(_("The file is larger than 1 MB; a list of entries is not."))
    if data.startswith(_OLD_OR_LOCKED):
        raise UnreadableSheet(
            _(
                "This is an old workbook, or one with a password. Save it as .xlsx without a "
                "password, or as CSV."
            )
        )
    cells = _workbook_cells(data) if data.startswith(_ZIP) else _text_cells(_decoded(data))
    return _rows(cells)


def _rows(cells: Iterator[Sequence[str]]) -> list[SheetRow]:
    rows: list[SheetRow] = []
    for line, row in enumerate(cells, start=1):
        said = [plain_cell(text).replace("\r\n", "\n").strip() for text in row]
        while said and not said[-1]:
            said.pop()
        if not said:
            continue
        if len(said) > MOST_COLUMNS:
            raise UnreadableSheet(
                _("Row {line} has more than {most} cells.").format(line=line, most=MOST_COLUMNS)
            )
        if max(map(len, said)) > LONGEST_CELL:
            raise UnreadableSheet(
                _("A cell in row {line} is longer than {most} letters.").format(
                    line=line, most=LONGEST_CELL
                )
            )
        if len(rows) > MOST_ROWS:
            raise UnreadableSheet(_("The list has more than {most} rows.").format(most=MOST_ROWS))
        rows.append(SheetRow(line, tuple(said)))
    if not rows:
        raise UnreadableSheet(_("There is nothing in the list."))
    return rows


# --- CSV ------------------------------------------------------------------------------------


def _decoded(data: bytes) -> str:
    text = _tried(data, _encoding(data))
    if text is None and b"\0" not in data:
        text = _tried(data, "cp1252")
    if text is None or any(category(sign) == "Cc" and sign not in "\t\r\n" for sign in text):
        raise UnreadableSheet(_("This is no list we can read. Save it as .xlsx or as CSV (UTF-8)."))
    return text


def _encoding(data: bytes) -> str:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16"
    # UTF-16 without a mark: plain letters have nought in every other byte.
    few = len(data) // 8
    if data[1::2].count(0) > few > data[::2].count(0):
        return "utf-16-le"
    if data[::2].count(0) > few > data[1::2].count(0):
        return "utf-16-be"
    return "utf-8-sig"


def _tried(data: bytes, encoding: str) -> str | None:
    with suppress(UnicodeDecodeError):
        return data.decode(encoding)
    return None


def _text_cells(text: str) -> Iterator[list[str]]:
    said, told = text.split("\n", 1)[0].rstrip("\r").strip('"'), ""
    if said.lower().startswith("sep=") and len(said) == 5:
        told, text = said[4], text.split("\n", 1)[-1]
        if told not in SEPARATORS:
            raise UnreadableSheet(
                _("The cells are parted by an odd sign; use commas or semicolons.")
            )
    separator = told or max(SEPARATORS, key=lambda sign: _known_headings(text, sign))
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    line = 0
    try:
        for row in reader:
            yield row
            line += 1
    except csv.Error as fault:
        raise UnreadableSheet(
            _("After row {line}, a quotation mark is not closed, or something follows it.").format(
                line=line
            )
        ) from fault


def _known_headings(text: str, separator: str) -> tuple[int, int]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    try:
        first = next((row for row in reader if any(row)), [])
    except csv.Error:
        return 0, 0
    return len(matched(first[:MOST_COLUMNS]).places), len(first)


# --- Workbooks ------------------------------------------------------------------------------


def _demand_harmless(data: bytes) -> None:
    with zipfile.ZipFile(io.BytesIO(data)) as parts:
        inside = parts.infolist()
        names = {part.filename.lower() for part in inside}
        if any(part.flag_bits & 1 for part in inside):
            raise UnreadableSheet(_("The file has a password. Save it without one."))
        # What a part says of its size is also all that is ever unpacked of it.
        if len(inside) > MOST_PARTS or sum(part.file_size for part in inside) > LARGEST_UNPACKED:
            raise UnreadableSheet(_("Unpacked, the workbook is far larger than a list of entries."))
        kinds = parts.read("[Content_Types].xml") if "[content_types].xml" in names else b""
        if b"macroEnabled" in kinds or any("vbaproject" in name for name in names):
            raise UnreadableSheet(_("The workbook holds macros. Save it as .xlsx without them."))


def _workbook_cells(data: bytes) -> Iterator[list[str]]:
    try:
        _demand_harmless(data)
        book = openpyxl.load_workbook(
            io.BytesIO(data), read_only=True, data_only=True, keep_links=False
        )
        if not book.worksheets:
            raise UnreadableSheet(_("The workbook has no sheet with cells."))
        sheet = book.worksheets[0]
        sheet.reset_dimensions()  # what a sheet says of its size is not to be trusted
        empty = (None,) * (MOST_COLUMNS + 1)
        for line, row in enumerate(sheet.iter_rows(max_col=MOST_COLUMNS + 1, values_only=True)):
            if line >= LAST_LINE:
                raise UnreadableSheet(
                    _("The sheet goes on below row {most}; take that off.").format(most=LAST_LINE)
                )
            yield [] if row == empty else [_as_text(value) for value in row]
    except UnreadableSheet:
        raise
    # Made to break a reader, a file can raise nearly anything: it is no list, whatever it is.
    except Exception as fault:
        raise UnreadableSheet(
            _("This workbook cannot be read. Save it again as .xlsx, or as CSV.")
        ) from fault


def _as_text(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    if isinstance(value, datetime) and value.time() == time():
        return value.date().isoformat()
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    return str(value)
