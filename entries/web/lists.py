"""The office's doors for whole lists: entries out as a file, and in from one."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from entries.actions.export_entries import blank_list, export_entries
from entries.actions.import_entries import leave_list, read_list, take_list
from entries.models import EntryImport
from entries.queries.entry_lists import Preview, list_of, list_to_take, preview_of
from entries.rules.entry_rows import EntryRow, RowFault
from entries.rules.entry_sheet import READ
from entries.rules.places import Status
from entries.rules.rig import WORDS
from entries.rules.sheet_reading import LARGEST_FILE, MOST_ROWS
from entries.rules.sheet_writing import FORMS
from showrun.errors import InvalidInput
from showrun.language import gettext as _
from showrun.language import listed
from showrun.shows.models import Person, Show
from showrun.shows.queries import person_of, show_for
from showrun.shows.rules.access import Deed
from showrun.shows.web.number_sent import number_sent

FAULTS_AT_TOP = 10


@never_cache
@require_safe
def export(request: HttpRequest, slug: str) -> HttpResponse:
    """Send the list of entries, or a blank one, as the form asked for."""
    show = show_for(request.user, slug, Deed.RUN_ENTRIES)
    form, at = request.GET.get("form", "csv"), timezone.now()
    blank = "blank" in request.GET
    if blank:
        data = blank_list(show=show, form=form, at=at)
    else:
        data = export_entries(show=show, form=form, by=person_of(request.user), at=at)
    answer = HttpResponse(data, content_type=FORMS[form])
    name = f"{show.slug}-entries{'-blank' if blank else ''}.{form}"
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


@dataclass(frozen=True)
class Line:
    """One row of the preview."""

    row: EntryRow
    rig: str
    crew: str
    faults: list[RowFault]


def _lines(looked: Preview) -> list[Line]:
    return [
        Line(
            row=row,
            rig=", ".join(WORDS.get(value, value) for value in row.rig.values() if value),
            crew=", ".join(member["name"] for member in row.crew),
            faults=looked.faults_at(row.line),
        )
        for row in looked.rows
    ]


def _page(
    request: HttpRequest, show: Show, *, read: EntryImport | None, fault: str = ""
) -> HttpResponse:
    looked = preview_of(read) if read else None
    bad_lines = {one.line for one in looked.faults} if looked else set()
    context = {
        "show": show,
        "here": "entries",
        "fault": fault,
        "read": read,
        "looked": looked,
        "lines": _lines(looked) if looked else [],
        "bad_rows": len(bad_lines),
        "first_faults": looked.faults[:FAULTS_AT_TOP] if looked else [],
        "more_faults": max(0, len(looked.faults) - FAULTS_AT_TOP) if looked else 0,
        "columns": READ,
        "most_rows": MOST_ROWS,
    }
    return render(request, "entries/import.html", context, status=422 if fault else 200)


def _read(request: HttpRequest, show: Show, by: Person) -> None:
    file = request.FILES.get("file")
    if not isinstance(file, UploadedFile):
        raise InvalidInput(_("Choose a file first."))
    if (file.size or 0) > LARGEST_FILE:
        raise InvalidInput(_("The file is larger than 1 MB; a list of entries is not."))
    read_list(show=show, file_name=file.name or "", data=file.read(), by=by, at=timezone.now())


def _taken_words(statuses: list[str]) -> str:
    waiting = statuses.count(Status.WAITING.value)
    placed = len(statuses) - waiting
    said = []
    if placed:
        said.append(f"{placed} {'wagons have places' if placed > 1 else 'wagon has a place'}")
    if waiting:
        said.append(f"{waiting} {'are' if waiting > 1 else 'is'} on the wait list")
    return _("The list is taken: {empty}.").format(empty=listed(said) or "it was empty")


@never_cache
def import_list(request: HttpRequest, slug: str) -> HttpResponse:
    """Read a file and show what it would do; take it whole, or leave it."""
    show = show_for(request.user, slug, Deed.RUN_ENTRIES)
    by = person_of(request.user)
    if request.method != "POST":
        return _page(request, show, read=list_to_take(show, by))
    did, at = request.POST.get("do", ""), timezone.now()
    try:
        if did == "read":
            _read(request, show, by)
        elif did == "take":
            read = list_of(show, number_sent(request.POST.get("list")))
            entries = take_list(read=read, by=by, at=at)
            messages.success(request, _taken_words([entry.status for entry in entries]))
            return redirect("entries:office-entries", show.slug)
        elif did == "leave":
            leave_list(read=list_of(show, number_sent(request.POST.get("list"))), by=by, at=at)
            messages.success(request, _("The list is left; nothing of it was entered."))
        else:
            raise InvalidInput(_("Read, take or leave: choose one of them."))
    except InvalidInput as fault:
        return _page(request, show, read=list_to_take(show, by), fault=fault.detail)
    return redirect("entries:import", show.slug)
