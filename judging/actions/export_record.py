"""Take the record out of the show, as a file, and note who did."""

from __future__ import annotations

import json
from datetime import UTC, datetime

from django.db import transaction

from entries.rules.sheet_writing import csv_file
from judging.queries.record import Asked, record_of
from showrun.errors import InvalidInput
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import AuditEntry, Person, Show
from showrun.shows.rules.changes import side_by_side

FORMS = {"csv": "text/csv; charset=utf-8", "jsonl": "application/jsonl"}
HEADINGS = (
    *("Line", "At (UTC)", "Who", "E-mail", "Device", "What", "Of what", "Before", "After"),
    "Why",
)


@transaction.atomic
def export_record(*, show: Show, form: str, asked: Asked, by: Person, at: datetime) -> bytes:
    """Return the lines asked for, oldest first; that they were taken out is a line itself."""
    if form not in FORMS:
        raise InvalidInput(
            _("The record comes as csv or as jsonl."), fields={"form": _("csv or jsonl.")}
        )
    lines = list(record_of(show, asked).order_by("id"))
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="took out the record",
        subject=f"record ({form})",
        after={"lines": len(lines)},
    )
    if form == "csv":
        return csv_file([HEADINGS, *(_cells(line) for line in lines)])
    return "".join(json.dumps(_facts(line), ensure_ascii=False) + "\n" for line in lines).encode()


def _at(line: AuditEntry) -> str:
    return line.at.astimezone(UTC).isoformat().replace("+00:00", "Z")


def _cells(line: AuditEntry) -> list[str | int]:
    facts = side_by_side(line.before, line.after)
    before, after = (
        "; ".join(f"{f.name}: {said}".removeprefix(": ") for f, said in told if said)
        for told in ([(f, f.before) for f in facts], [(f, f.after) for f in facts])
    )
    who, mail = (line.actor.name, line.actor.email) if line.actor else ("the service", "")
    return [
        *(line.pk, _at(line), who, mail, line.device, line.verb, line.subject, before, after),
        line.reason,
    ]


def _facts(line: AuditEntry) -> dict[str, object]:
    who = {"name": line.actor.name, "email": line.actor.email} if line.actor else None
    return {
        "line": line.pk,
        "at": _at(line),
        "who": who,
        "device": line.device,
        "verb": line.verb,
        "subject": line.subject,
        "before": line.before,
        "after": line.after,
        "reason": line.reason,
    }
