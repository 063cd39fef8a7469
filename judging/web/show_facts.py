"""The office's page of what the show says of itself: its name and days, its classes, who is in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext_lazy as lazy
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from entries.models import Entry
from judging.actions.change_show import (
    LONGEST_DESCRIPTION,
    LONGEST_NAME,
    MOST_PLACES,
    add_class,
    change_class,
    change_show,
    place_wagons,
    remove_class,
)
from judging.queries.class_standing import ClassLine, class_lines, classes_of, wagons_there
from judging.queries.practice import judging_begun
from judging.rules.cards.class_changes import (
    ClassChange,
    ClassStanding,
    reason_against_class_change,
)
from showrun.errors import InvalidInput, ShowError
from showrun.language import gettext as _
from showrun.language import ngettext
from showrun.shows.models import Person, Show
from showrun.shows.queries import person_of, show_for
from showrun.shows.rules.access import Deed
from showrun.shows.web.days_form import DaysForm
from showrun.shows.web.number_sent import number_sent
from showrun.shows.web.office_form import OfficeForm


class ClassForm(OfficeForm):
    """A class as exhibitors read it."""

    name = forms.CharField(
        label=lazy("Name"),
        max_length=LONGEST_NAME,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": lazy("What is the class called?")},
    )
    description = forms.CharField(
        label=lazy("What it is for"),
        help_text=lazy("Exhibitors read it when they choose."),
        max_length=LONGEST_DESCRIPTION,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    places = forms.IntegerField(
        label=lazy("Places that get an award"),
        min_value=1,
        max_value=MOST_PLACES,
        error_messages={
            "required": lazy("A whole number, please."),
            "invalid": lazy("A whole number, please."),
            "min_value": lazy("At least one, please."),
            "max_value": lazy("At most %(limit_value)s, please."),
        },
    )


@dataclass(frozen=True)
class ClassPart:
    """One class on the page: how far it has come, its form, and why it is not taken away."""

    line: ClassLine
    form: ClassForm
    kept: str


@dataclass(frozen=True)
class WagonRow:
    """One wagon, and for each class whether it is in it."""

    entry: Entry
    cells: list[tuple[ClassLine, bool]]


@dataclass
class FactsForms:
    """The forms of the page as they were sent, and what the wagons' refusal says."""

    days: DaysForm
    add: ClassForm
    classes: dict[int, ClassForm]
    sent: OfficeForm | None = None
    fault: str = ""
    status: int = 200


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def show_facts(request: HttpRequest, slug: str) -> HttpResponse:
    """Show name, days, classes and who is in which; change what was sent."""
    show = show_for(request.user, slug, Deed.RUN_TERMS)
    data = request.POST if request.method == "POST" else None
    forms_there = _forms(show, data)
    if data is not None:
        said = _change(show, data, forms_there, person_of(request.user))
        if said:
            messages.success(request, said)
            return redirect("judging:show-facts", slug)
    return render(
        request,
        "judging/show_facts.html",
        _page(show, forms_there, data),
        status=forms_there.status,
    )


def _forms(show: Show, data: Any) -> FactsForms:
    do, chosen = (data.get("do"), data.get("class")) if data is not None else (None, None)
    judged_on = show.judging_starts_at.astimezone(show.tz).date()
    found = FactsForms(
        days=DaysForm(
            data if do == "days" else None,
            prefix="days",
            initial={
                **{
                    name: getattr(show, name) for name in ("name", "ground", "starts_on", "ends_on")
                },
                "judged_on": judged_on,
            },
        ),
        add=ClassForm(data if do == "add" else None, prefix="add", initial={"places": 3}),
        classes={
            one.pk: ClassForm(
                data if do == "change" and chosen == str(one.pk) else None,
                prefix=f"class-{one.pk}",
                initial={
                    "name": one.name,
                    "description": one.description,
                    "places": one.places_awarded,
                },
            )
            for one in show.classes.all()
        },
    )
    bound = (form for form in (found.days, found.add, *found.classes.values()) if form.is_bound)
    found.sent = next(bound, None)
    return found


def _change(show: Show, data: Any, there: FactsForms, by: Person) -> str:
    """Do what was sent and say it; nothing where the page is to be shown again."""
    if there.sent is not None and not there.sent.is_valid():
        there.status = 422
        return ""
    try:
        return _do(show, data, there, by)
    except ShowError as fault:
        there.status = fault.status
        if there.sent is None:
            there.fault = fault.detail
        else:
            there.sent.take(fault)
    return ""


def _do(show: Show, data: Any, there: FactsForms, by: Person) -> str:
    at = timezone.now()
    given = there.sent.cleaned_data if there.sent else {}
    if there.sent is there.days:
        change_show(show=show, by=by, at=at, **given)
        return _("The show is changed. Papers made before carry what was said before.")
    if there.sent is there.add:
        made = add_class(show=show, by=by, at=at, **given)
        return _("{name} is added. Declare how it is judged, and put wagons into it.").format(
            name=made.name
        )
    if data.get("do") == "wagons":
        moved = place_wagons(show=show, wanted=_ticked(show, data), by=by, at=at)
        if not moved:
            return _("Every wagon is in its classes already.")
        return ngettext(
            "{n} wagon is in other classes now: {names}. Look at the panel: it may need mending.",
            "{n} wagons are in other classes now: {names}. Look at the panel: it may need mending.",
            len(moved),
        ).format(n=len(moved), names=", ".join(moved))
    class_id = number_sent(data.get("class"))
    if there.sent is not None:
        changed = change_class(show=show, class_id=class_id, by=by, at=at, **given)
        return _("{name} is changed.").format(name=changed.name)
    if data.get("do") == "remove":
        remove_class(show=show, class_id=class_id, by=by, at=at)
        return _("The class is taken away.")
    raise InvalidInput(_("Nothing was changed: the page was sent without saying what to change."))


def _ticked(show: Show, data: Any) -> dict[int, set[int]]:
    """Read of each wagon that the page showed which classes are ticked."""
    classes = list(show.classes.values_list("pk", flat=True))
    shown = {number_sent(one) for one in data.getlist("wagon")} - {0}
    return {key: {one for one in classes if f"in-{key}-{one}" in data} for key in shown}


def _page(show: Show, there: FactsForms, data: Any) -> dict[str, Any]:
    lines, entries = class_lines(show), list(wagons_there(show))
    asked = _ticked(show, data) if data is not None and there.fault else {}
    kept = classes_of(entries)
    begun = ClassStanding(judging_begun=judging_begun(show))
    return {
        "show": show,
        "here": "facts",
        "days": there.days,
        "add": there.add,
        "parts": [
            ClassPart(
                line,
                there.classes[line.show_class.pk],
                reason_against_class_change(ClassChange.REMOVE, line.standing),
            )
            for line in lines
        ],
        "rows": [
            WagonRow(
                entry,
                [
                    (line, line.show_class.pk in asked.get(entry.pk, kept[entry.pk]))
                    for line in lines
                ],
            )
            for entry in entries
        ],
        "no_more": reason_against_class_change(ClassChange.ADD, begun),
        "settled": reason_against_class_change(ClassChange.WAGONS, begun),
        "fault": there.fault,
    }
