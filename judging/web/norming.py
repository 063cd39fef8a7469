"""The office's door to the practice wagon: set it up, close it, compare what judges gave it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext_lazy
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from entries.models import Entry
from entries.rules.rig import FACTS, WORDS
from judging.actions.practice import (
    LONGEST_NAME,
    LONGEST_PLANTED,
    close_practice,
    set_up_practice,
)
from judging.queries.norming import norming_of
from judging.web.norming_view import view_of
from showrun.errors import InvalidInput, ShowError
from showrun.language import gettext as _
from showrun.shows.models import Person, Show
from showrun.shows.queries import allowed, demand, show_for
from showrun.shows.rules.access import Deed
from showrun.shows.web.office_form import OfficeForm


class PracticeForm(OfficeForm):
    """Name, rig and planted faults of the practice wagon."""

    wagon_name = forms.CharField(
        label=gettext_lazy("Wagon"),
        help_text=gettext_lazy(
            "What judges read on their phones. Take a wagon that is not entered."
        ),
        max_length=LONGEST_NAME,
        error_messages={"required": gettext_lazy("A name for the practice wagon, please.")},
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    planted = forms.CharField(
        label=gettext_lazy("Planted faults"),
        help_text=gettext_lazy(
            "If you planted any, one on each line. Judges do not see them on the phone; this "
            "page shows them for the talk."
        ),
        required=False,
        max_length=LONGEST_PLANTED,
        widget=forms.Textarea(attrs={"rows": 4}),
    )

    def __init__(
        self, data: Mapping[str, Any] | None, *, wagon: Entry | None, marked: bool
    ) -> None:
        given = {"wagon_name": _("Practice wagon")}
        if wagon:
            given = {"wagon_name": wagon.wagon_name, "planted": wagon.history, **wagon.rig.facts()}
        super().__init__(data, initial=given)
        for name, kind in FACTS.items():
            self.fields[name] = forms.ChoiceField(
                label=WORDS[name], choices=[(member.value, WORDS[member.value]) for member in kind]
            )
        self.order_fields(["wagon_name", *FACTS, "planted"])
        for name in ("wagon_name", *FACTS) if marked else ():
            self.fields[name].disabled = True

    @property
    def rig(self) -> dict[str, str]:
        """The facts chosen."""
        return {name: self.cleaned_data[name] for name in FACTS}


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def norming(request: HttpRequest, slug: str) -> HttpResponse:
    """Compare what judges gave the practice wagon; set it up, change it, close it."""
    show = show_for(request.user, slug, Deed.SEE_OFFICE)
    found = norming_of(show)
    view = view_of(found) if found else None
    data = request.POST if request.method == "POST" else None
    form = PracticeForm(
        data if request.POST.get("do") == "set-up" else None,
        wagon=found.wagon if found else None,
        marked=bool(view and view.marked),
    )
    if data is not None:
        demand(request.user, Deed.RUN_CARDS, show)
        said = _do(show, data, form, request.user, timezone.now())
        if said:
            messages.success(request, said)
            return redirect("judging:norming", slug=slug)
    context = {
        "show": show,
        "here": "norming",
        "view": view,
        "form": form,
        "may_run": allowed(request.user, Deed.RUN_CARDS, show),
    }
    return render(request, "judging/norming.html", context, status=422 if form.errors else 200)


def _do(show: Show, data: Mapping[str, str], form: PracticeForm, by: object, at: datetime) -> str:
    """Do what was asked and say so; nothing when the form says what is wrong."""
    assert isinstance(by, Person)
    if data.get("do") == "close":
        wagon = close_practice(show=show, by=by, at=at)
        return _("{wagon_name} is off the judges' phones. What they marked stays here.").format(
            wagon_name=wagon.wagon_name
        )
    if not form.is_bound:
        raise InvalidInput(_("Set up or close: choose one of them."))
    if not form.is_valid():
        return ""
    try:
        wagon = set_up_practice(
            show=show,
            wagon_name=form.cleaned_data["wagon_name"],
            rig=form.rig,
            planted=form.cleaned_data["planted"],
            by=by,
            at=at,
        )
    except ShowError as fault:
        form.take(fault)
        return ""
    return _(
        "{wagon_name} is set up. Judges find it on their phones with the next contact."
    ).format(wagon_name=wagon.wagon_name)
