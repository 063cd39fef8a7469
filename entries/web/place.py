"""The exhibitor's answer to an offered place, and leaving the show."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from entries.actions.promote import decline, take_up
from entries.actions.withdraw_entry import withdraw_entry
from entries.models import Entry
from entries.queries.entries import entry_for
from showrun.errors import Gone, InvalidInput, NotYet
from showrun.language import gettext as _
from showrun.shows.models import Person
from showrun.shows.queries import person_of
from showrun.shows.rules.access import Deed


def _answer(request: HttpRequest, entry: Entry, by: Person) -> str:
    do, at = request.POST.get("do"), timezone.now()
    if do == "take_up":
        done = take_up(entry=entry, by=by, at=at)
        return _("The place is yours: {wagon} is entered. The office confirms it next.").format(
            wagon=done.wagon_name
        )
    if do == "decline":
        done = decline(entry=entry, by=by, at=at)
        return _("You declined the place; {wagon} has left the list.").format(wagon=done.wagon_name)
    if do == "withdraw":
        reason = request.POST.get("reason", "")
        done = withdraw_entry(entry=entry, by=by, at=at, reason=reason)
        return _("{wagon} is withdrawn from the show.").format(wagon=done.wagon_name)
    raise InvalidInput(_("Take it up, decline it or withdraw: choose one of them."))


@require_POST
def place(request: HttpRequest, entry_id: int) -> HttpResponse:
    """Take the offered place up, decline it, or withdraw; then back to the entry."""
    entry = entry_for(request.user, entry_id, Deed.LEAVE_SHOW)
    try:
        messages.success(request, _answer(request, entry, person_of(request.user)))
    except (Gone, InvalidInput, NotYet) as fault:
        messages.error(request, fault.detail)
    return redirect("reports:my-entry", entry.pk)
