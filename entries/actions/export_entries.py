"""Take the list of entries out of the show, as a file, and note who did."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from entries.queries.entry_lists import TEMPLATE_ROW, entry_rows_of, template_notes
from entries.rules.sheet_writing import FORMS, csv_file, xlsx_file
from showrun.errors import InvalidInput
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show


def _demand_form(form: str) -> None:
    if form not in FORMS:
        raise InvalidInput(_("A list comes as csv or as xlsx."), fields={"form": _("csv or xlsx.")})


@transaction.atomic
def export_entries(*, show: Show, form: str, by: Person, at: datetime) -> bytes:
    """Return the file; addresses and telephone numbers leave with it, so the record says so."""
    _demand_form(form)
    rows = entry_rows_of(show)
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="took out the list of entries",
        subject=f"list of entries ({form})",
        after={"rows": len(rows) - 1},
    )
    return csv_file(rows) if form == "csv" else xlsx_file(rows, title="Entries", at=at)


def blank_list(*, show: Show, form: str, at: datetime) -> bytes:
    """Return a list with headings only, to be filled in; a workbook says on a second sheet how."""
    _demand_form(form)
    if form == "csv":
        return csv_file([TEMPLATE_ROW])
    return xlsx_file([TEMPLATE_ROW], title="Entries", at=at, notes=template_notes(show))
