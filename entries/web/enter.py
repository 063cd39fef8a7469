"""The exhibitor's door: enter a wagon."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache

from entries.actions.enter import enter
from entries.models import Entry
from entries.queries import own_wagons, place_in_line, places_left
from entries.rules.eligibility import reason_against_entering
from entries.rules.places import Status
from entries.web.forms import EntryForm
from showrun.errors import Gone, InvalidInput
from showrun.shows.queries import person_of, show_by_slug


def _taken_message(entry: Entry) -> str:
    if entry.status == Status.WAITING:
        return (
            f"{entry.wagon_name} is on the wait list, at place {place_in_line(entry)}. "
            "Places that come free are given in the order of the list; this page tells you."
        )
    return f"{entry.wagon_name} is entered and has a place. The office confirms it next."


@never_cache
@login_required
def enter_wagon(request: HttpRequest, slug: str) -> HttpResponse:
    """Show the entry form; take the entry, or show the form again with what is wrong."""
    show = show_by_slug(slug)
    today = timezone.localdate(timezone=show.tz)
    closed = reason_against_entering(starts_on=show.starts_on, ends_on=show.ends_on, today=today)
    if closed:
        raise Gone(closed)
    person = person_of(request.user)
    mine = own_wagons(person, show)
    form = EntryForm(
        request.POST if request.method == "POST" else None,
        classes=show.classes.all(),
        wagons_entered=[entry.wagon_name for entry in mine],
    )
    if request.method == "POST" and form.is_valid():
        try:
            entry = enter(
                show=show,
                exhibitor=person,
                wagon_name=form.cleaned_data["wagon_name"],
                outfit=form.cleaned_data["outfit"],
                history=form.cleaned_data["history"],
                rig=form.rig,
                classes=form.chosen_classes,
                crew=form.crew,
                at=timezone.now(),
            )
        except InvalidInput as fault:
            form.refuse(fault.fields)
        else:
            messages.success(request, _taken_message(entry))
            return redirect("reports:my-entry", entry.pk)
    context = {"show": show, "form": form, "mine": mine, "places_left": places_left(show)}
    status = 422 if form.is_bound else 200
    return render(request, "entries/enter.html", context, status=status)
