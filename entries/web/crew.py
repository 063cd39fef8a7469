"""The crew of an entry: who comes, what changed, and changing it."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from entries.actions.change_crew import change_crew
from entries.models import CrewChange, Entry
from entries.queries.crew import crew_as_shown, reads_names
from entries.queries.entries import entry_for
from entries.rules.eligibility import CREW_MAX, CREW_MIN, CREW_ROLES
from entries.web.rig_choices import as_sentence
from showrun.errors import InvalidInput
from showrun.language import gettext as _
from showrun.shows.queries import allowed, person_of
from showrun.shows.rules.access import Deed


@dataclass(frozen=True)
class TypedRow:
    """One line of the crew list as typed."""

    number: int
    name: str
    role: str
    under_age: bool


def _typed(request: HttpRequest) -> list[TypedRow]:
    sent = request.POST
    return [
        TypedRow(
            n,
            sent.get(f"crew_name_{n}", ""),
            sent.get(f"crew_role_{n}", ""),
            f"crew_under_age_{n}" in sent,
        )
        for n in range(1, CREW_MAX + 1)
    ]


def _stored(entry: Entry) -> list[TypedRow]:
    there = list(entry.crew.all())
    rows = [TypedRow(n, m.name, m.role, m.under_age) for n, m in enumerate(there, start=1)]
    more = range(len(rows) + 1, CREW_MAX + 1)
    return rows + [TypedRow(n, "", "helper", False) for n in more]


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def crew(request: HttpRequest, entry_id: int) -> HttpResponse:
    """Show the crew with its log; take a new list from the owner or the office."""
    if request.method != "POST":
        return _page(request, entry_for(request.user, entry_id, Deed.SEE_ENTRY))
    entry = entry_for(request.user, entry_id, Deed.CHANGE_ENTRY)
    rows, reason = _typed(request), request.POST.get("reason", "")
    sent = [{"name": r.name, "role": r.role, "under_age": r.under_age} for r in rows]
    by = person_of(request.user)
    try:
        changes = change_crew(entry=entry, crew=sent, by=by, at=timezone.now(), reason=reason)
    except InvalidInput as fault:
        return _page(request, entry, rows, reason, fault.fields)
    if changes:
        messages.success(request, _("The crew is changed; the log below says how."))
    else:
        messages.info(request, _("Nothing was different."))
    return redirect("entries:crew", entry.pk)


def _page(
    request: HttpRequest,
    entry: Entry,
    rows: list[TypedRow] | None = None,
    reason: str = "",
    faults: dict[str, str] | None = None,
) -> HttpResponse:
    shown = crew_as_shown(entry, request.user, timezone.now())
    context = {
        "show": entry.show,
        "entry": entry,
        "shown": shown,
        "may_change": reads_names(request.user, entry) and not shown.against,
        "in_full": reads_names(request.user, entry),
        "sees_office": allowed(request.user, Deed.SEE_OFFICE, entry.show),
        "rows": rows or _stored(entry),
        "roles": [(code, as_sentence(_(words))) for code, words in CREW_ROLES.items()],
        "span": _("{fewest} to {most}").format(fewest=CREW_MIN, most=CREW_MAX),
        "reason": reason,
        "longest": CrewChange.REASON_MAX,
        "faults": faults or {},
        "fault_list": [
            ("crew_name_1" if name == "crew" else name, said)
            for name, said in (faults or {}).items()
        ],
    }
    return render(request, "entries/crew.html", context, status=422 if faults else 200)
