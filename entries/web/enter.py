"""The exhibitor's door: enter a wagon, or keep what is typed and go on later."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from entries.actions.enter import demand_open, enter
from entries.actions.save_draft import discard_draft, save_draft
from entries.models import Entry, EntryDraft
from entries.queries.entering import draft_of, outfits_of
from entries.queries.entries import own_wagons, place_in_line, places_left
from entries.queries.lacking import lacking_of, waiver_of
from entries.queries.terms import terms_of
from entries.rules.eligibility import same_name
from entries.rules.places import Status
from entries.rules.terms_words import said_at
from entries.web.forms import EntryForm
from entries.web.typed import sent_photo
from showrun.errors import Conflict, InvalidInput, ShowError
from showrun.language import gettext as _
from showrun.language import ngettext
from showrun.shows.models import Person, Show
from showrun.shows.queries import person_of, show_by_slug
from showrun.shows.web.limits import limited
from showrun.shows.web.number_sent import number_sent
from showrun.shows.web.way_back import signed_in


def _taken_message(entry: Entry) -> str:
    if entry.status == Status.WAITING:
        words = _(
            "{wagon} is on the wait list, at place {place}. Places that come free are "
            "given in the order of the list; this page tells you."
        ).format(wagon=entry.wagon_name, place=place_in_line(entry))
    else:
        words = _("{wagon} is entered and has a place. The office confirms it next.").format(
            wagon=entry.wagon_name
        )
    if missing := len(lacking_of(entry)):
        words += " " + ngettext(
            "{n} thing is still missing.", "{n} things are still missing.", missing
        ).format(n=missing)
    return words


@never_cache
@signed_in
@limited("enter", 30)
def enter_wagon(request: HttpRequest, slug: str) -> HttpResponse:
    """Show the entry form with the draft in it; take the entry, or say what is wrong."""
    show = show_by_slug(slug)
    demand_open(show, timezone.now())
    person = person_of(request.user)
    if request.method != "POST":
        draft = draft_of(person, show)
        form = _form(show, person, _as_sent(draft) if draft else None)
        return _page(request, show, form, draft=draft)
    form, photo = _form(show, person, request.POST), sent_photo(request)
    if form.is_valid():
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
                photo=photo,
                at=timezone.now(),
                **form.said(),
            )
        except InvalidInput as fault:
            form.refuse(fault.fields)
        else:
            messages.success(request, _taken_message(entry))
            return redirect("reports:my-entry", entry.pk)
    return _page(request, show, form, status=422, photo_lost=photo is not None)


@never_cache
@require_POST
@signed_in
def draft(request: HttpRequest, slug: str) -> HttpResponse:
    """Keep what is typed, bring a kept outfit into it, or throw it away.

    The page's script asks for JSON; a button gets the form again.
    """
    show, person, do = show_by_slug(slug), person_of(request.user), request.POST.get("do", "save")
    quiet = "application/json" in request.headers.get("Accept", "")
    if do == "discard":
        discard_draft(show=show, exhibitor=person)
        messages.success(request, _("The draft is thrown away."))
        return redirect("entries:enter", show.slug)
    try:
        kept = save_draft(
            show=show,
            exhibitor=person,
            typed=dict(request.POST.lists()),
            outfit_id=_outfit_id(do),
            at=timezone.now(),
        )
    except ShowError as fault:
        if quiet:
            return JsonResponse({"words": fault.detail}, status=fault.status)
        if not isinstance(fault, Conflict):
            raise
        form = _form(show, person, request.POST)
        form.faults["wagon_name"] = fault.detail
        return _page(request, show, form, status=fault.status)
    if quiet:
        return JsonResponse({"words": _saved_words(kept)})
    brought = _outfit_id(do) is not None
    messages.success(
        request, _("The wagon's facts stand in the form.") if brought else _saved_words(kept)
    )
    return redirect("entries:enter", show.slug)


def _outfit_id(do: str) -> int | None:
    word, _colon, number = do.partition(":")
    return (number_sent(number) or None) if word == "outfit" else None


def _saved_words(kept: EntryDraft) -> str:
    return _("Draft saved {when}.").format(when=said_at(kept.saved_at.astimezone(kept.show.tz)))


def _as_sent(kept: EntryDraft) -> QueryDict:
    """Return the draft as a browser would have sent it."""
    sent = QueryDict(mutable=True)
    for name, values in kept.typed.items():
        sent.setlist(name, [str(value) for value in values])
    return sent


def _form(show: Show, person: Person, data: QueryDict | None) -> EntryForm:
    return EntryForm(
        data,
        classes=show.classes.all(),
        terms=terms_of(show),
        wagons_entered=[entry.wagon_name for entry in own_wagons(person, show)],
    )


def _page(
    request: HttpRequest,
    show: Show,
    form: EntryForm,
    *,
    draft: EntryDraft | None = None,
    status: int = 200,
    photo_lost: bool = False,
) -> HttpResponse:
    person = person_of(request.user)
    mine = own_wagons(person, show)
    entered = {same_name(entry.wagon_name) for entry in mine}
    context = {
        "show": show,
        "form": form,
        "mine": mine,
        "places_left": places_left(show),
        "terms": form.terms,
        "waiver_version": waiver_of(form.terms),
        "draft": draft,
        "photo_lost": photo_lost,
        "outfits": [one for one in outfits_of(person) if same_name(one.wagon_name) not in entered],
    }
    return render(request, "entries/enter.html", context, status=status)
