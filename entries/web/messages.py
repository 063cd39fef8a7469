"""The office tells exhibitors something, and reads again what it told."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from entries.actions.tell_exhibitors import tell
from entries.models import Entry
from entries.queries.messages import NOT_TOLD, entries_to_tell, messages_of
from entries.rules.message_text import LONGEST_MESSAGE
from showrun.errors import Conflict, InvalidInput
from showrun.language import gettext as _
from showrun.shows.models import Person, Show
from showrun.shows.queries import allowed, demand, person_of, show_by_slug
from showrun.shows.rules.access import Deed
from showrun.shows.web.number_sent import number_sent

TO_ALL = "all"


class MessageForm(forms.Form):
    """To whom, and what; the rule says what is wrong with it."""

    to = forms.CharField(required=False)
    text = forms.CharField(required=False, strip=False)

    def __init__(self, data: Any = None, *, initial: Any = None) -> None:
        super().__init__(data, initial=initial)
        self.faults: dict[str, str] = {}

    @property
    def chosen(self) -> str:
        """Whom it is for, as chosen so far."""
        return str(self["to"].value() or TO_ALL)


def _entry_of(show: Show, to: str) -> Entry | None:
    """Return the wagon chosen, None for all."""
    if to == TO_ALL:
        return None
    found = Entry.objects.filter(show=show, pk=number_sent(to)).exclude(status__in=NOT_TOLD).first()
    if found is None:
        fault = _("Choose a wagon of this show, or all.")
        raise InvalidInput(fault, fields={"to": fault})
    return found


def _send(request: HttpRequest, show: Show, form: MessageForm, by: Person) -> None:
    entry = _entry_of(show, form.chosen)
    site = request.build_absolute_uri("/")
    text = form.cleaned_data["text"]
    try:
        tell(show=show, entry=entry, text=text, by=by, at=timezone.now(), site=site)
    except Conflict as fault:
        messages.info(request, fault.detail)
    else:
        readers = (
            _("The exhibitor of {entry}").format(entry=entry.called)
            if entry
            else _("Every exhibitor")
        )
        messages.success(
            request, _("Sent. {readers} reads it on the page of the entry.").format(readers=readers)
        )


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def messages_page(request: HttpRequest, slug: str) -> HttpResponse:
    """List what was sent, the newest first; send another."""
    show = show_by_slug(slug)
    posted = request.method == "POST"
    demand(request.user, Deed.TELL_EXHIBITORS if posted else Deed.SEE_OFFICE, show)
    form = MessageForm(request.POST if posted else None, initial={"to": request.GET.get("to", "")})
    if posted and form.is_valid():
        try:
            _send(request, show, form, person_of(request.user))
        except InvalidInput as fault:
            form.faults = fault.fields
        else:
            return redirect("entries:messages", show.slug)
    context = {
        "show": show,
        "here": "messages",
        "form": form,
        "entries": entries_to_tell(show),
        "sent": messages_of(show),
        "longest": LONGEST_MESSAGE,
        "may_tell": allowed(request.user, Deed.TELL_EXHIBITORS, show),
    }
    return render(request, "entries/messages.html", context, status=422 if form.faults else 200)
