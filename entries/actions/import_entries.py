"""Read a list of entries from a file, look at it, and take it whole or leave it."""

from __future__ import annotations

import hashlib
from datetime import datetime

from django.db import transaction

from entries.actions.enter import enter
from entries.models import Entry, EntryImport
from entries.queries.entry_lists import Preview, preview_of
from entries.rules.entry_rows import EntryRow
from entries.rules.entry_sheet import matched
from entries.rules.sheet_reading import SheetRow, UnreadableSheet, read_sheet
from showrun.errors import Conflict, InvalidInput
from showrun.language import gettext as _
from showrun.shows.actions.plan_show import person_for
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show

FILE_NAME_MAX = 160


def _refused(sentence: str) -> InvalidInput:
    return InvalidInput(sentence, code="unreadable-list", fields={"file": sentence})


def _rows_to_keep(rows: list[SheetRow]) -> list[dict[str, object]]:
    """Return the headings, then what is read of each row; no other column is kept."""
    heading, *below = rows
    heads = matched(heading.cells)
    if heads.missing:
        raise _refused(
            _("The first row must name the columns. Missing: {columns}.").format(
                columns=", ".join(heads.missing)
            )
        )
    if heads.twice:
        raise _refused(
            _("A column appears twice: {columns}.").format(columns=", ".join(heads.twice))
        )
    if not below:
        raise _refused(_("There is no row below the headings."))
    beyond = next((row for row in below if len(row.cells) > len(heading.cells)), None)
    if beyond:
        raise _refused(
            _("Row {line} has more cells than there are headings.").format(line=beyond.line)
        )
    kept: list[dict[str, object]] = [{"line": heading.line, "headings": list(heading.cells)}]
    for row in below:
        cells = {
            key: row.cells[place] for key, place in heads.places.items() if place < len(row.cells)
        }
        kept.append({"line": row.line, "cells": cells})
    return kept


@transaction.atomic
def read_list(*, show: Show, file_name: str, data: bytes, by: Person, at: datetime) -> EntryImport:
    """Keep what a file says, to be looked at; a list this person looked at before is left."""
    try:
        rows = _rows_to_keep(read_sheet(data))
    except UnreadableSheet as fault:
        raise _refused(str(fault)) from fault
    Show.objects.select_for_update().get(pk=show.pk)
    before = EntryImport.objects.filter(show=show, read_by=by, state=EntryImport.State.READ)
    before.update(state=EntryImport.State.LEFT, rows=[], settled_at=at)
    name = "".join(sign for sign in file_name if sign.isprintable())
    return EntryImport.objects.create(
        show=show,
        file_name=name[-FILE_NAME_MAX:] or "list",
        sha256=hashlib.sha256(data).hexdigest(),
        rows=rows,
        read_at=at,
        read_by=by,
    )


def _locked(read: EntryImport) -> EntryImport:
    Show.objects.select_for_update().get(pk=read.show_id)
    found = EntryImport.objects.select_related("show").get(pk=read.pk)
    if found.state != EntryImport.State.READ:
        done = "taken" if found.state == EntryImport.State.TAKEN else "left"
        raise Conflict(
            _("This list was {done} already; nothing was entered again.").format(done=done)
        )
    return found


def _enter(show: Show, row: EntryRow, at: datetime) -> Entry:
    try:
        return enter(
            show=show,
            exhibitor=person_for(email=row.exhibitor_email, name=row.exhibitor_name),
            wagon_name=row.wagon_name,
            outfit=row.outfit,
            history=row.history,
            rig=row.rig,
            classes=row.classes,
            crew=row.crew,
            **row.particulars,
            at=at,
        )
    except InvalidInput as fault:
        raise InvalidInput(
            _("Nothing was taken. Row {row}: {fault}").format(
                row=row.line, fault=" ".join(fault.fields.values()) or fault.detail
            ),
            fields=fault.fields,
        ) from fault


@transaction.atomic
def take_list(*, read: EntryImport, by: Person, at: datetime) -> list[Entry]:
    """Enter every row, in the file's order, or none of them.

    The list is judged again under the lock: the show may have changed since it was looked at.
    """
    read = _locked(read)
    show, looked = read.show, preview_of(read)
    if looked.faults:
        raise InvalidInput(_why_not(looked), code="list-has-faults")
    entries = [_enter(show, row, at) for row in looked.rows]
    read.state, read.settled_at = EntryImport.State.TAKEN, at
    read.save()
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="took a list of entries",
        subject=f"list {read.file_name}",
        after={
            "rows": len(entries),
            "sha256": read.sha256,
            "entries": [entry.pk for entry in entries],
        },
    )
    return entries


def _why_not(looked: Preview) -> str:
    first, lines = looked.faults[0], len({fault.line for fault in looked.faults})
    more = f" {lines} rows need mending." if lines > 1 else ""
    return f"Nothing was taken. Row {first.line}, {first.column}: {first.sentence}{more}"


@transaction.atomic
def leave_list(*, read: EntryImport, by: Person, at: datetime) -> None:
    """Forget a list; what it said is not kept, who left it is."""
    read = _locked(read)
    read.state, read.settled_at, read.rows = EntryImport.State.LEFT, at, []
    read.save()
    record_change(
        show=read.show,
        actor=by,
        at=at,
        verb="left a list of entries",
        subject=f"list {read.file_name}",
        after={"sha256": read.sha256},
    )
