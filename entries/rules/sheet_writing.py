"""Writes a list as CSV or XLSX that every spreadsheet opens and none reckons with."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import datetime

from openpyxl import Workbook  # type: ignore[import-untyped]
from openpyxl.cell import WriteOnlyCell  # type: ignore[import-untyped]
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE  # type: ignore[import-untyped]
from openpyxl.styles import Alignment, Font  # type: ignore[import-untyped]
from openpyxl.utils import get_column_letter  # type: ignore[import-untyped]

from entries.rules.sheet_cells import safe_cell

Cell = str | int | float | None
FORMS = {
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}
_TEXT = "@"  # the number format that keeps what is typed
_WIDEST = 48  # letters


def _cell(value: Cell) -> str | int | float:
    return safe_cell(value) if isinstance(value, str) else "" if value is None else value


def csv_file(rows: Iterable[Sequence[Cell]]) -> bytes:
    r"""Write rows as CSV: commas, quotes where needed, in UTF-8 with its mark.

    Parameters
    ----------
    rows : iterable of sequence
        The headings first. Texts are made safe; numbers stay numbers.

    Source
    ------
    RFC 4180, 2.1 to 2.7. The mark, by which a spreadsheet knows UTF-8: common practice, no source.

    Examples
    --------
    >>> csv_file([["Wagon", "No."], ['The "Tin" Lantern', 3]]).decode("utf-8-sig")
    'Wagon,No.\r\n"The ""Tin"" Lantern",3\r\n'
    """
    kept = io.StringIO(newline="")
    csv.writer(kept, lineterminator="\r\n").writerows([_cell(one) for one in row] for row in rows)
    return kept.getvalue().encode("utf-8-sig")


def xlsx_file(
    rows: Iterable[Sequence[Cell]],
    *,
    title: str,
    at: datetime,
    notes: Sequence[Sequence[str]] = (),
) -> bytes:
    """Write rows as a workbook in which every text is typed as text.

    Parameters
    ----------
    rows : iterable of sequence
        The headings first; they stay in sight.
    title : str
        The sheet's name, of which 31 letters are kept.
    at : datetime
        When the list was made; stands in the file's properties.
    notes : sequence of sequence of str
        Rows of a second sheet that says how to fill in the first; none, no such sheet.

    Source
    ------
    ECMA-376, SpreadsheetML (cell types, number format 49 “@”; from memory).

    Examples
    --------
    >>> from datetime import UTC
    >>> xlsx_file([["Wagon"]], title="Entries", at=datetime(2027, 5, 1, tzinfo=UTC))[:2]
    b'PK'
    """
    book = Workbook(write_only=True)
    book.properties.created = book.properties.modified = at.replace(tzinfo=None)
    book.properties.creator = ""
    _fill(book, _sheet_name(title), [*rows])
    if notes:
        _fill(book, "How to fill it in", notes)
    kept = io.BytesIO()
    book.save(kept)
    return kept.getvalue()


def _sheet_name(title: str) -> str:
    return "".join(sign for sign in title if sign.isalnum() or sign in " -_").strip()[:31] or "List"


def _fill(book: Workbook, name: str, rows: Sequence[Sequence[Cell]]) -> None:
    sheet = book.create_sheet(name)
    sheet.freeze_panes = "A2"
    for place in range(max((len(row) for row in rows), default=0)):
        longest = max(len(str(row[place] or "")) for row in rows if place < len(row))
        sheet.column_dimensions[get_column_letter(place + 1)].width = min(_WIDEST, longest + 3)
    for number, row in enumerate(rows):
        sheet.append([_typed(sheet, value, heading=number == 0) for value in row])


def _typed(sheet: object, value: Cell, *, heading: bool) -> WriteOnlyCell:
    said = _cell(value)
    if isinstance(said, str):
        said = ILLEGAL_CHARACTERS_RE.sub("", said)
    cell = WriteOnlyCell(sheet, value=said if said != "" else None)
    if isinstance(said, str):
        cell.number_format = _TEXT
        cell.alignment = Alignment(vertical="top", wrap_text=len(said) > _WIDEST or "\n" in said)
        if said:
            cell.data_type = "s"
    if heading:
        cell.font = Font(bold=True)
    return cell
