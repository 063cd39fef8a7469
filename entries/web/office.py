"""The office's doors: the list of entries, and what is decided about one."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import datetime

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from entries.actions.decide_entry import (
    confirm_entered,
    confirm_entry,
    put_on_wait_list,
    scratch_entry,
)
from entries.actions.promote import offer_next
from entries.models import Entry, EntryTerms
from entries.queries.entries import entries_of, entry_for
from entries.queries.lacking import Lack, lacking_of
from entries.queries.terms import terms_of
from entries.rules.offers import deadline_words, ran_out
from entries.rules.places import HOLDS_A_PLACE, STATUS_WORDS, Status
from showrun.errors import InvalidInput, NotYet
from showrun.language import gettext as _
from showrun.shows.models import Person
from showrun.shows.queries import demand, person_of, show_by_slug, show_for
from showrun.shows.rules.access import Deed, may

# In the order of the tabs.
STATUS_SIGN = {
    Status.ENTERED: "state-ask",
    Status.CONFIRMED: "state-good",
    Status.OFFERED: "state-ask",
    Status.WAITING: "state-wait",
    Status.SCRATCHED: "state-bad",
}


@dataclass(frozen=True)
class EntryLine:
    """One row of the office's list."""

    entry: Entry
    classes: str
    crew_count: int
    status_words: str
    sign: str
    late: bool
    lacks: list[Lack]
    can_confirm: bool
    can_wait: bool
    can_scratch: bool


@dataclass(frozen=True)
class Tab:
    """One way to narrow the list."""

    value: str
    words: str
    count: int


def _line(entry: Entry, line_no: dict[int, int], terms: EntryTerms, at: datetime) -> EntryLine:
    status = Status(entry.status)
    words = _(STATUS_WORDS[status])
    if status is Status.WAITING:
        words = _("waiting, {pk} in line").format(pk=line_no[entry.pk])
    return EntryLine(
        entry=entry,
        classes=", ".join(taken.show_class.name for taken in entry.classes.all()),
        crew_count=len(entry.crew.all()),
        status_words=words,
        sign=STATUS_SIGN[status],
        late=entry.take_up_by is not None and ran_out(entry.take_up_by, at),
        lacks=[] if status is Status.SCRATCHED else lacking_of(entry, terms),
        can_confirm=status in (Status.ENTERED, Status.OFFERED, Status.WAITING),
        can_wait=status in HOLDS_A_PLACE,
        can_scratch=status is not Status.SCRATCHED,
    )


def _order(entry: Entry) -> tuple[int, int]:
    """Numbered wagons by number, then those without one in the order they entered."""
    return (entry.number or 10**9, entry.pk)


@never_cache
@require_safe
def entry_list(request: HttpRequest, slug: str) -> HttpResponse:
    """List the show's entries with what the office can decide about each."""
    show = show_by_slug(slug)
    own_roles = demand(request.user, Deed.SEE_OFFICE, show)
    rows = entries_of(show).select_related("show").prefetch_related("animals")
    entries = sorted(rows, key=_order)
    waiting = sorted(entry.pk for entry in entries if entry.status == Status.WAITING)
    line_no = {pk: place for place, pk in enumerate(waiting, start=1)}
    counts = Counter(entry.status for entry in entries)
    wanted = request.GET.get("status", "")
    if wanted not in STATUS_SIGN:
        wanted = ""
    shown = [e for e in entries if not wanted or e.status == wanted]
    taken = sum(counts[status] for status in HOLDS_A_PLACE)
    may_decide = may(own_roles, Deed.RUN_ENTRIES)
    terms, at = terms_of(show), timezone.now()
    context = {
        "show": show,
        "here": "entries",
        "own_roles": own_roles,
        "lines": [_line(entry, line_no, terms, at) for entry in shown],
        "tabs": [
            Tab("", _("All"), len(entries)),
            *(Tab(s.value, _(STATUS_WORDS[s]).capitalize(), counts[s]) for s in STATUS_SIGN),
        ],
        "wanted": wanted,
        "places_taken": taken,
        "waiting": len(waiting),
        "to_confirm": counts[Status.ENTERED],
        "offered": counts[Status.OFFERED],
        "may_decide": may_decide,
        "may_offer": may_decide and bool(waiting) and taken < show.entry_cap,
        "may_check_in": may(own_roles, Deed.CHECK_IN),
    }
    return render(request, "entries/office_entries.html", context)


def _decide(request: HttpRequest, entry: Entry, by: Person) -> str:
    decision, reason = request.POST.get("decision"), request.POST.get("reason", "").strip()
    at = timezone.now()
    if decision == "confirm":
        done = confirm_entry(entry=entry, by=by, at=at)
        spot = f" and {done.spot}" if done.spot else "; no camp spot is free"
        return _("{wagon} is confirmed: number {number}{spot}.").format(
            wagon=done.wagon_name, number=done.number, spot=spot
        )
    if decision == "wait":
        done = put_on_wait_list(entry=entry, by=by, at=at, reason=reason)
        return _("{wagon} is on the wait list.").format(wagon=done.wagon_name)
    if decision == "scratch":
        done = scratch_entry(entry=entry, by=by, at=at, reason=reason)
        return _("{wagon} is scratched.").format(wagon=done.wagon_name)
    raise InvalidInput(_("Confirm, wait or scratch: choose one of them."))


@require_POST
def decide(request: HttpRequest, entry_id: int) -> HttpResponse:
    """Confirm, put on the wait list or scratch; then back to the list, at the entry."""
    entry = entry_for(request.user, entry_id, Deed.RUN_ENTRIES)
    assert isinstance(request.user, Person)
    try:
        messages.success(request, _decide(request, entry, request.user))
    except (InvalidInput, NotYet) as fault:
        messages.error(
            request, _("{wagon}: {detail}").format(wagon=entry.wagon_name, detail=fault.detail)
        )
    back = reverse("entries:office-entries", args=[entry.show.slug])
    kept = request.POST.get("status", "")
    query = f"?status={kept}" if kept in set(Status) else ""
    return redirect(f"{back}{query}#entry-{entry.pk}")


@require_POST
def confirm_all(request: HttpRequest, slug: str) -> HttpResponse:
    """Confirm every entry that waits for it; then back to the list."""
    show = show_for(request.user, slug, Deed.RUN_ENTRIES)
    try:
        done = confirm_entered(show=show, by=person_of(request.user), at=timezone.now())
    except NotYet as fault:
        messages.error(request, fault.detail)
    else:
        without = sum(entry.spot is None for entry in done)
        messages.success(request, _("Confirmed: {n}.").format(n=len(done)))
        if without:
            messages.warning(
                request, _("Without a camp spot: {n}; none is free.").format(n=without)
            )
    return redirect("entries:office-entries", show.slug)


@require_POST
def offer(request: HttpRequest, slug: str) -> HttpResponse:
    """Offer the next place by hand; then back to the list, at the entry."""
    show = show_for(request.user, slug, Deed.RUN_ENTRIES)
    back = reverse("entries:office-entries", args=[show.slug])
    try:
        entry = offer_next(show=show, by=person_of(request.user), at=timezone.now())
    except NotYet as fault:
        messages.error(request, fault.detail)
        return redirect(back)
    assert entry.take_up_by is not None
    until = deadline_words(entry.take_up_by, show.tz)
    messages.success(
        request,
        _("A place is offered to {wagon} until {until}.").format(
            wagon=entry.wagon_name, until=until
        ),
    )
    return redirect(f"{back}#entry-{entry.pk}")
