"""An entry's details: what its show asks beside wagon, rig and crew, and what is still missing."""

from __future__ import annotations

from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from entries.actions.change_entry import change_entry
from entries.models import Entry
from entries.queries.entries import entry_for
from entries.queries.lacking import lacking_of, waiver_of
from entries.queries.terms import terms_of
from entries.rules.particulars import reason_against_changing
from entries.rules.places import Status
from entries.web.details_form import DetailsForm
from entries.web.typed import sent_photo
from showrun.errors import InvalidInput, NotFound
from showrun.language import gettext as _
from showrun.shows.queries import allowed, person_of
from showrun.shows.rules.access import Deed


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def details(request: HttpRequest, entry_id: int) -> HttpResponse:
    """Show what is kept and what is missing; keep what was changed, all of it or nothing."""
    entry = entry_for(request.user, entry_id, Deed.CHANGE_ENTRY)
    if request.method != "POST":
        return _page(request, entry, DetailsForm(entry, terms_of(entry.show)))
    form = DetailsForm(entry, terms_of(entry.show), request.POST)
    photo, change = sent_photo(request), form.change()
    try:
        if form.faults:
            raise InvalidInput(_("Nothing was changed yet: see the marked fields."))
        change_entry(
            entry=entry, by=person_of(request.user), at=timezone.now(), photo=photo, **change
        )
    except InvalidInput as fault:
        form.refuse(fault.fields)
        return _page(request, entry, form, status=fault.status, photo_lost=photo is not None)
    messages.success(request, _("Saved."))
    return redirect("entries:details", entry.pk)


def _page(
    request: HttpRequest,
    entry: Entry,
    form: DetailsForm,
    *,
    status: int = 200,
    photo_lost: bool = False,
) -> HttpResponse:
    show, today = entry.show, timezone.localdate(timezone=entry.show.tz)
    own = entry.exhibitor_id == request.user.pk
    context = {
        "show": show,
        "entry": entry,
        "form": form,
        "terms": form.terms,
        "own": own,
        "lacking": lacking_of(entry, form.terms),
        "waiver_version": waiver_of(form.terms),
        "agree_words": _("To agree, type your name")
        if own
        else _("The exhibitor's name, as signed on paper"),
        "oldest": form.oldest(),
        "asks_papers": form.terms.animals_asked or bool(form.oldest()),
        "photo_lost": photo_lost,
        "against": reason_against_changing(
            status=Status(entry.status), ends_on=show.ends_on, today=today
        ),
        "sees_office": allowed(request.user, Deed.SEE_OFFICE, show),
    }
    return render(request, "entries/details.html", context, status=status)


@require_safe
def photo(request: HttpRequest, entry_id: int) -> FileResponse:
    """Hand out the wagon's photo to its exhibitor and the show's office, and to nobody else."""
    entry = entry_for(request.user, entry_id, Deed.SEE_ENTRY)
    if not entry.photo:
        raise NotFound(_("This entry has no photo."))
    try:
        file = entry.photo.open("rb")
    except FileNotFoundError as lost:
        raise NotFound(_("The file of this photo is lost.")) from lost
    answer = FileResponse(file, filename=f"entry-{entry.pk}.jpg", content_type="image/jpeg")
    answer["Cache-Control"] = "private, no-store"
    return answer
