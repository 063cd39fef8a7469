"""Take the ledger out of the show, as a file, and note who did."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from entries.queries.money_export import ledger_rows
from entries.rules.sheet_writing import csv_file
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show


@transaction.atomic
def export_ledger(*, show: Show, by: Person, at: datetime) -> bytes:
    """Return the file; who paid what leaves with it, so the record says so."""
    rows = list(ledger_rows(show))
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="took out the ledger",
        subject="ledger (csv)",
        after={"rows": len(rows) - 1},
    )
    return csv_file(rows)
