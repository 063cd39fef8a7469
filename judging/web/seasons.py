"""Seasons: the office's page, the maker's page, and the standings anybody may read."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext_lazy
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from judging.actions.seasons import (
    LONGEST_NAME,
    LONGEST_REASON,
    MOST_SHOWS,
    add_class,
    change_season,
    make_season,
    remove_class,
)
from judging.models import Season, SeasonClass
from judging.queries.seasons import (
    all_seasons,
    counted_results,
    season_by_slug,
    season_table,
    seasons_of,
)
from judging.web.choices import class_field
from showrun.errors import NotAllowed, NotFound, ShowError
from showrun.language import gettext as _
from showrun.shows.models import Show, ShowClass
from showrun.shows.queries import allowed, demand, person_of, show_by_slug
from showrun.shows.rules.access import Deed
from showrun.shows.web.office_form import OfficeForm

# Seasons count released results; who may release a show's results may put its classes in.
DEED = Deed.RELEASE_RESULT


class SeasonForm(OfficeForm):
    """What a season declares."""

    prefix = "season"

    name = forms.CharField(
        label=gettext_lazy("Name"),
        max_length=LONGEST_NAME,
        error_messages={"required": gettext_lazy("What is the season called?")},
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    points = forms.CharField(
        label=gettext_lazy("Points by place"),
        help_text=gettext_lazy(
            "First place first, with commas between, such as 10, 7, 5, 3, 1. Further places "
            "get none. Entries that share a place get the average of the places they fill."
        ),
        max_length=1000,
        error_messages={"required": gettext_lazy("Points for at least the first place, please.")},
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    best_of = forms.IntegerField(
        label=gettext_lazy("Best shows that count"),
        help_text=gettext_lazy("Empty: all shows count."),
        required=False,
        min_value=1,
        max_value=MOST_SHOWS,
        error_messages={
            "invalid": gettext_lazy("A whole number, please."),
            "min_value": gettext_lazy("At least one show."),
        },
    )

    def clean_points(self) -> list[str]:
        """Take the table apart; the action says whether it is one."""
        return [text.strip() for text in self.cleaned_data["points"].split(",")]


class ChangeForm(SeasonForm):
    """The same, with a reason once results count."""

    reason = forms.CharField(
        label=gettext_lazy("Reason"),
        help_text=gettext_lazy(
            "Needed once a released result counts; it stands on the season's page."
        ),
        max_length=LONGEST_REASON,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


class AddForm(OfficeForm):
    """Which class of this show counts in which season."""

    prefix = "add"

    show_class = class_field(ShowClass.objects.none())
    season = forms.ModelChoiceField(
        Season.objects.all(),
        label=gettext_lazy("Season"),
        empty_label=gettext_lazy("Choose a season"),
        error_messages={
            "required": gettext_lazy("Which season?"),
            "invalid_choice": gettext_lazy("Choose a season."),
        },
    )

    def __init__(self, data: Any = None, *, show: Show) -> None:
        super().__init__(data)
        field = self.fields["show_class"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = show.classes.all()


class RemoveForm(OfficeForm):
    """A class that is to count no more, and why."""

    prefix = "remove"

    row = class_field(SeasonClass.objects.none())
    reason = forms.CharField(
        label=gettext_lazy("Reason"),
        max_length=LONGEST_REASON,
        error_messages={"required": gettext_lazy("Why?")},
    )

    def __init__(self, data: Any = None, *, rows: Any) -> None:
        super().__init__(data)
        field = self.fields["row"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = rows.select_related("season", "show_class__show")


def _done(form: OfficeForm, deed: Callable[[dict[str, Any]], object]) -> bool:
    """Do it with what was typed; a refusal goes back into the form."""
    if not form.is_valid():
        return False
    try:
        deed(form.cleaned_data)
    except ShowError as fault:
        form.take(fault)
    return not form.errors


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def office_seasons(request: HttpRequest, slug: str) -> HttpResponse:
    """Make a season, and say which classes of this show count in one."""
    show = show_by_slug(slug)
    posted = request.method == "POST"
    demand(request.user, DEED if posted else Deed.SEE_OFFICE, show)
    do, typed, at = request.POST.get("do"), request.POST, timezone.now()
    rows = SeasonClass.objects.filter(show_class__show=show)
    make = SeasonForm(typed if do == "make" else None)
    add = AddForm(typed if do == "add" else None, show=show)
    remove = RemoveForm(typed if do == "remove" else None, rows=rows)
    if posted:
        by = person_of(request.user)
        deeds: dict[str | None, tuple[OfficeForm, Callable[[dict[str, Any]], object], str]] = {
            "make": (make, lambda given: make_season(show=show, by=by, at=at, **given), "made"),
            "add": (add, lambda given: add_class(by=by, at=at, **given), _("class added")),
            "remove": (
                remove,
                lambda given: remove_class(by=by, at=at, **given),
                _("class removed"),
            ),
        }
        if do not in deeds:
            raise NotFound(_("There is nothing to do here by that name."))
        form, deed, said = deeds[do]
        if _done(form, deed):
            messages.success(request, _("Season: {said}.").format(said=said))
            return redirect("judging:office-seasons", slug)
    context = {
        "show": show,
        "here": "seasons",
        "rows": seasons_of(show),
        "seasons": all_seasons(),
        "make": make,
        "add": add,
        "remove": remove,
        "may_run": allowed(request.user, DEED, show),
    }
    return render(request, "judging/office_seasons.html", context, status=422 if posted else 200)


@require_safe
def seasons(request: HttpRequest) -> HttpResponse:
    """List the seasons."""
    return render(request, "judging/seasons.html", {"seasons": all_seasons()})


@require_safe
def season(request: HttpRequest, season_slug: str) -> HttpResponse:
    """Show the standings: which results count, which are dropped, and as of when."""
    found = season_by_slug(season_slug)
    context = {
        "season": found,
        "table": season_table(found),
        "may_edit": request.user.pk == found.made_by_id,
    }
    return render(request, "judging/season.html", context)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def edit_season(request: HttpRequest, season_slug: str) -> HttpResponse:
    """Let whoever made the season change it, or take a class out."""
    found = season_by_slug(season_slug)
    if request.user.pk != found.made_by_id:
        raise NotAllowed(_("Only the person who made this season changes it."))
    by, at, do = person_of(request.user), timezone.now(), request.POST.get("do")
    declared = {
        "name": found.name,
        "points": ", ".join(found.points),
        "best_of": found.best_of,
    }
    change = ChangeForm(request.POST if do == "change" else None, initial=declared)
    rows = SeasonClass.objects.filter(season=found)
    remove = RemoveForm(request.POST if do == "remove" else None, rows=rows)
    posted = request.method == "POST"
    if posted:
        if do == "remove":
            well = _done(remove, lambda given: remove_class(by=by, at=at, **given))
        else:
            well = _done(change, lambda given: change_season(season=found, by=by, at=at, **given))
        if well:
            messages.success(request, _("The season is changed."))
            return redirect("judging:season", found.slug)
    context = {
        "season": found,
        "change": change,
        "remove": remove,
        "counting": len(counted_results(found)),
        "has_classes": rows.exists(),
    }
    return render(request, "judging/season_edit.html", context, status=422 if posted else 200)
