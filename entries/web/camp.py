"""The camp plan: the office lays it out and gives spots; exhibitors read it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from entries.actions.assign_spots import assign_spots, fill_spots, swap_spots
from entries.actions.mark_zones import mark_zones
from entries.actions.move_spots import lay_out_rows, move_spots
from entries.models import CampSpot, CampZone, Entry
from entries.queries.camp import camp_of, confirmed_entries
from entries.queries.entries import own_wagons
from entries.rules.places import Status
from entries.web import camp_forms
from showrun.errors import InvalidInput, ShowError
from showrun.language import gettext as _
from showrun.language import ngettext
from showrun.shows.models import Person, Show
from showrun.shows.queries import allowed, demand, person_of, show_by_slug
from showrun.shows.rules.access import Deed
from showrun.shows.web.number_sent import number_sent

NO_SPOT = "none"


@dataclass
class _Asked:
    """The forms of the page, as they were sent where one was refused."""

    spots: list[camp_forms.SpotForm] | None = None
    zones: list[camp_forms.ZoneForm] | None = None
    rows: camp_forms.RowsForm | None = None


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def camp(request: HttpRequest, slug: str) -> HttpResponse:
    """Show the plan with its tables; take what was typed, dragged or chosen."""
    show = show_by_slug(slug)
    posted = request.method == "POST"
    demand(request.user, Deed.RUN_CAMP if posted else Deed.SEE_OFFICE, show)
    asked = _Asked()
    if posted:
        try:
            said = _take(request, show, person_of(request.user), asked)
        except ShowError as fault:
            messages.error(request, fault.detail)
        else:
            messages.success(request, said)
            return redirect("entries:camp", slug=slug)
    return render(request, "entries/camp.html", _page(request, show, asked))


def _page(request: HttpRequest, show: Show, asked: _Asked) -> dict[str, object]:
    plan = camp_of(show)
    spots = [line.spot for line in plan.lines]
    entries = list(confirmed_entries(show))
    return {
        "show": show,
        "here": "camp",
        "plan": plan,
        "spot_forms": asked.spots or camp_forms.spot_forms(spots),
        "zone_forms": asked.zones or camp_forms.zone_forms(plan.zones),
        "rows_form": asked.rows or camp_forms.RowsForm(lacking=show.entry_cap - len(spots)),
        "entries": entries,
        "homeless": sum(entry.spot_id is None for entry in entries) if plan.free else 0,
        "spots": spots,
        "may_change": allowed(request.user, Deed.RUN_CAMP, show),
    }


def _take(request: HttpRequest, show: Show, by: Person, asked: _Asked) -> str:
    does: dict[str, Callable[[HttpRequest, Show, Person, _Asked], str]] = {
        "spots": _spots,
        "zones": _zones,
        "rows": _rows,
        "assign": _assign,
        "fill": _fill,
        "swap": _swap,
    }
    done = does.get(request.POST.get("do", ""))
    if done is None:
        raise InvalidInput(_("Choose what to change on the plan."))
    return done(request, show, by, asked)


def _spots(request: HttpRequest, show: Show, by: Person, asked: _Asked) -> str:
    forms = camp_forms.spot_forms(CampSpot.objects.filter(show=show), request.POST)
    asked.spots = forms
    if not all([form.is_valid() for form in forms]):
        raise InvalidInput(_("Nothing was saved yet: see the marked fields."))
    changes = camp_forms.spot_changes(forms)
    move_spots(show=show, changes=changes, by=by, at=timezone.now())
    n = len(changes)
    if not n:
        return _("Nothing was changed.")
    return ngettext("{n} spot changed.", "{n} spots changed.", n).format(n=n)


def _zones(request: HttpRequest, show: Show, by: Person, asked: _Asked) -> str:
    forms = camp_forms.zone_forms(CampZone.objects.filter(show=show), request.POST)
    asked.zones = forms
    if not all([form.is_valid() for form in forms]):
        raise InvalidInput(_("Nothing was saved yet: see the marked fields."))
    changes = camp_forms.zone_changes(forms)
    mark_zones(show=show, changes=changes, by=by, at=timezone.now())
    n = len(changes)
    if not n:
        return _("Nothing was changed.")
    return ngettext("{n} zone changed.", "{n} zones changed.", n).format(n=n)


def _rows(request: HttpRequest, show: Show, by: Person, asked: _Asked) -> str:
    form = asked.rows = camp_forms.RowsForm(request.POST)
    if not form.is_valid():
        raise InvalidInput(_("No spot was laid out yet: see the marked fields."))
    laid = lay_out_rows(show=show, by=by, at=timezone.now(), **form.cleaned_data)
    return _("Spots {number} to {number2} are on the plan.").format(
        number=laid[0].number, number2=laid[-1].number
    )


def _assign(request: HttpRequest, show: Show, by: Person, asked: _Asked) -> str:
    """Change the wagons whose choice was changed on this page, all of them in one step."""
    wanted: dict[int, int | None] = {}
    for entry in confirmed_entries(show):
        now = request.POST.get(f"spot-{entry.pk}", "")
        if now and now != request.POST.get(f"was-{entry.pk}", ""):
            wanted[entry.pk] = _number(now)
    moved = assign_spots(show=show, wanted=wanted, by=by, at=timezone.now())
    if not moved:
        return _("Nobody moved.")
    return f"{len(moved)} wagon{'' if len(moved) == 1 else 's'} moved."


def _fill(request: HttpRequest, show: Show, by: Person, asked: _Asked) -> str:
    """Give every wagon without a spot the next free one."""
    placed = fill_spots(show=show, by=by, at=timezone.now())
    n = len(placed)
    return ngettext("{n} wagon has a spot now.", "{n} wagons have a spot now.", n).format(n=n)


def _number(typed: str) -> int | None:
    if typed == NO_SPOT:
        return None
    if not (number := number_sent(typed)):
        raise InvalidInput(_("Choose a camp spot from the list."))
    return number


def _swap(request: HttpRequest, show: Show, by: Person, asked: _Asked) -> str:
    pair = [_entry(show, request.POST.get(name, "")) for name in ("one", "other")]
    swap_spots(entry=pair[0], other=pair[1], by=by, at=timezone.now())
    return _("{pair} and {pair2} changed places.").format(pair=pair[0], pair2=pair[1])


def _entry(show: Show, typed: str) -> Entry:
    found = confirmed_entries(show).filter(pk=number_sent(typed)).first()
    if found is None:
        raise InvalidInput(_("Choose two wagons."))
    return found


@never_cache
@require_safe
def camp_plan(request: HttpRequest, slug: str) -> HttpResponse:
    """Show the plan to the office and to those who have a confirmed wagon in the show."""
    show = show_by_slug(slug)
    mine = own_wagons(request.user, show) if isinstance(request.user, Person) else []
    camping = [entry for entry in mine if entry.status == Status.CONFIRMED]
    demand(request.user, Deed.SEE_ENTRY, show, owner=bool(camping))
    context = {"show": show, "plan": camp_of(show), "mine": camping}
    return render(request, "entries/camp_plan.html", context)
