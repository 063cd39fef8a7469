"""The office's page of the weekend: each class sized alone, laid over the days by daylight."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext_lazy
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from judging.actions.open_window import QUICK
from judging.queries.plan import ShowProblem, day_rules, planner_of
from judging.queries.weekend import class_problems
from judging.rules.windows.cases import Length
from judging.rules.windows.daylight import Daylight, daylight
from judging.rules.windows.weekend import ClassNeed, DayRoom, Weekend, weekend
from showrun.errors import NotYet
from showrun.language import gettext as _
from showrun.shows.models import Show
from showrun.shows.queries import show_for
from showrun.shows.rules.access import Deed
from showrun.shows.web.office_form import OfficeForm

MARGIN_MINUTES = 30


class MarginForm(OfficeForm):
    """How much light is left unused at each end of a day."""

    margin = forms.IntegerField(
        label=gettext_lazy("Minutes kept free after sunrise and before sunset"),
        min_value=0,
        max_value=240,
        error_messages={
            "required": gettext_lazy("How many minutes?"),
            "invalid": gettext_lazy("A whole number of minutes, please."),
            "min_value": gettext_lazy("Zero or more, please."),
            "max_value": gettext_lazy("At most 240, please."),
        },
    )


@dataclass(frozen=True)
class ClassLine:
    """One class, were it judged by itself."""

    name: str
    wagons: int
    rotating: Length
    walking: Length
    starts_at: datetime | None = None
    ends_at: datetime | None = None
    latest: tuple[datetime | None, ...] = ()

    @property
    def placed(self) -> bool:
        """Whether a day has room for it."""
        return self.starts_at is not None


@dataclass(frozen=True)
class WeekendView:
    """What the page shows."""

    lines: tuple[ClassLine, ...]
    days: tuple[tuple[date, Daylight], ...]
    laid: Weekend | None
    style: str
    why_not: str = ""


@never_cache
@require_safe
def weekend_page(request: HttpRequest, slug: str) -> HttpResponse:
    """Show what each class takes, and whether the days hold them all."""
    show = show_for(request.user, slug, Deed.SEE_OFFICE)
    given = "margin" in request.GET
    form = MarginForm(request.GET if given else None, initial={"margin": MARGIN_MINUTES})
    margin = MARGIN_MINUTES
    if given and form.is_valid():
        margin = form.cleaned_data["margin"]
    status = 422 if given and not form.is_valid() else 200
    context = {"show": show, "here": "window", "form": form, "view": weekend_view(show, margin)}
    return render(request, "judging/weekend.html", context, status=status)


def weekend_view(show: Show, margin: int) -> WeekendView:
    """Size every class, and lay them over the days where the place of the ground is known."""
    rules = day_rules(show)
    style = rules.style
    try:
        lines = _lines(show)
    except NotYet as fault:
        return WeekendView((), (), None, style, fault.detail)
    if rules.latitude is None or rules.longitude is None:
        why = _("Say where the ground is, in the rules of the day: latitude and longitude.")
        return WeekendView(tuple(lines), (), None, style, why)
    days = [(day, daylight(rules.latitude, rules.longitude, day, show.tz)) for day in _days(show)]
    rooms = [_room(show, day, light) for day, light in days]
    needs = [ClassNeed(line.name, _held(line, style)) for line in lines]
    lit = [room for room in rooms if room is not None]
    laid = weekend(needs, lit, margin_minutes=margin)
    return WeekendView(
        tuple(
            replace(line, starts_at=p.starts_at, ends_at=p.ends_at, latest=p.latest)
            for line, p in zip(lines, laid.places, strict=True)
        ),
        tuple(days),
        laid,
        style,
        "" if lit else _("The sun does not rise on any of these days."),
    )


def _lines(show: Show) -> list[ClassLine]:
    lines = []
    for one in class_problems(show):
        lengths = {}
        for style in ("rotating", "walking"):
            alone = ShowProblem(
                one.problem, [], [], "walking" if style == "walking" else "rotating"
            )
            planner = planner_of(show, alone, QUICK)
            lengths[style] = planner.solved(planner.problem.visits)
        lines.append(ClassLine(one.name, one.entries, lengths["rotating"], lengths["walking"]))
    return lines


def _held(line: ClassLine, style: str) -> int:
    length = line.walking if style == "walking" else line.rotating
    return length.held("likely")


def _days(show: Show) -> list[date]:
    span = (show.ends_on - show.starts_on).days + 1
    return [show.starts_on + timedelta(days=k) for k in range(span)]


def _room(show: Show, day: date, light: Daylight) -> DayRoom | None:
    """The light of a day; all of it where the sun does not set."""
    name = f"{day:%A}"
    if light.kind == "polar day":
        midnight = datetime(day.year, day.month, day.day, tzinfo=show.tz)
        return DayRoom(name, midnight, midnight + timedelta(days=1))
    if light.sunrise is None or light.sunset is None:
        return None
    return DayRoom(name, light.sunrise, light.sunset)
