"""Plan a show: the one page between signing in and the show's own office."""

from __future__ import annotations

from datetime import date, datetime, time
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from django import forms
from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext_lazy as lazy
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from showrun.errors import NotAllowed, ShowError
from showrun.language import gettext as _
from showrun.shows.actions.plan_show import plan_show
from showrun.shows.models import Person, Show
from showrun.shows.queries import may_plan_shows, person_of
from showrun.shows.rules.planning import MOST_CLASSES, classes_in, show_slug
from showrun.shows.web.days_form import DaysForm
from showrun.shows.web.way_back import signed_in

if TYPE_CHECKING:
    from django.utils.functional import _StrPromise

ZONES = [
    ("America/New_York", lazy("Eastern")),
    ("America/Chicago", lazy("Central")),
    ("America/Denver", lazy("Mountain")),
    ("America/Phoenix", lazy("Arizona, the same all year")),
    ("America/Los_Angeles", lazy("Pacific")),
    ("America/Anchorage", lazy("Alaska")),
    ("Pacific/Honolulu", lazy("Hawaii")),
    ("America/Regina", lazy("Saskatchewan, the same all year")),
    ("America/Mexico_City", lazy("Central Mexico")),
    ("America/Hermosillo", lazy("Sonora")),
    ("America/Tijuana", lazy("Baja California")),
]
CAP, MINUTES, OPENS = 20, 300, time(8)


def _count(label: _StrPromise, initial: int, most: int, **more: Any) -> forms.IntegerField:
    said = {
        "required": lazy("A whole number, please."),
        "invalid": lazy("A whole number, please."),
        "min_value": lazy("At least one, please."),
        "max_value": lazy("At most %(limit_value)s, please."),
    }
    return forms.IntegerField(
        label=label, initial=initial, min_value=1, max_value=most, error_messages=said, **more
    )


class PlanForm(DaysForm):
    """What a show cannot begin without; all else has a page of its own later."""

    opens = forms.TimeField(
        label=lazy("Judging starts at"),
        initial=OPENS,
        widget=forms.TimeInput(format="%H:%M", attrs={"type": "time"}),
        error_messages={
            "required": lazy("When does judging start?"),
            "invalid": lazy("A time such as 08:00, please."),
        },
    )
    minutes = _count(
        lazy("Minutes for judging"),
        MINUTES,
        24 * 60,
        help_text=lazy("Changed later on the window's page."),
    )
    zone = forms.ChoiceField(label=lazy("Clock"), choices=ZONES, initial="America/Denver")
    entry_cap = _count(
        lazy("Places for wagons"), CAP, 500, help_text=lazy("Later ones wait in line.")
    )
    classes = forms.CharField(
        label=lazy("Classes"),
        help_text=lazy("One a line, such as Trail wagon. How each is judged is declared later."),
        max_length=3000,
        widget=forms.Textarea(attrs={"rows": 4}),
        error_messages={"required": lazy("At least one class.")},
    )

    def __init__(self, data: Any = None) -> None:
        super().__init__(data)
        self.fields["name"].widget.attrs["autofocus"] = True

    def clean_classes(self) -> list[dict[str, str]]:
        """Return the classes one by one."""
        found = classes_in(self.cleaned_data["classes"].splitlines())
        if len(found) > MOST_CLASSES:
            raise forms.ValidationError(_("At most {n} classes, please.").format(n=MOST_CLASSES))
        if any(len(one["name"]) > 120 for one in found):
            raise forms.ValidationError(_("A class's name has 120 letters at most."))
        return found


def _plan(given: dict[str, Any], by: Person, at: datetime) -> Show:
    first: date = given["starts_on"]
    taken = set(Show.objects.values_list("slug", flat=True))
    zone = ZoneInfo(given["zone"])
    return plan_show(
        slug=show_slug(given["name"], first.year, taken),
        name=given["name"],
        ground=given["ground"],
        starts_on=first,
        ends_on=given["ends_on"],
        judging_starts_at=datetime.combine(given["judged_on"], given["opens"], zone),
        judging_minutes=given["minutes"],
        zone=given["zone"],
        entry_cap=given["entry_cap"],
        classes=given["classes"],
        office=by,
        at=at,
    )


@never_cache
@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def plan(request: HttpRequest) -> HttpResponse:
    """Ask what a show cannot begin without, make it, and go to its office."""
    by = person_of(request.user)
    if not may_plan_shows(by, named=settings.SHOW_PLANNERS):
        raise NotAllowed(_("Who plans shows here is named by whoever runs this service."))
    form = PlanForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        try:
            show = _plan(form.cleaned_data, by, timezone.now())
        except ShowError as fault:
            form.take(fault)
        else:
            messages.success(
                request, _("{show} is planned. This is its office.").format(show=show.name)
            )
            return redirect("reports:office", show.slug)
    status = 422 if form.is_bound else 200
    return render(request, "shows/plan.html", {"form": form}, status=status)
