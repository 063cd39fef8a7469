"""The office's doors to food rounds: set up, draw, look at tables, print them, close marks."""

from __future__ import annotations

import secrets
from datetime import datetime

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from judging.actions.food_rounds import appoint_key_holder, close_food_marks, set_up_food
from judging.actions.food_tables import draw_food
from judging.models import FoodRound
from judging.queries.food import (
    food_book,
    key_holders,
    key_of,
    round_of,
    rounds_of,
    telling_gaps,
    view_of_round,
)
from judging.rules.food.draw import SEED_BITS
from judging.web.food_forms import KeyHolderForm, RoundForm
from showrun.errors import InvalidInput, NotYet, ShowError
from showrun.language import gettext as _
from showrun.shows.models import Person, Show
from showrun.shows.queries import allowed, demand, person_of, show_for
from showrun.shows.rules.access import Deed


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def food(request: HttpRequest, slug: str) -> HttpResponse:
    """List the food rounds; set one up; name the key holder."""
    show = show_for(request.user, slug, Deed.SEE_OFFICE)
    do = request.POST.get("do")
    with timezone.override(show.tz):
        form = RoundForm(request.POST if do == "set-up" else None, show=show)
        key_form = KeyHolderForm(request.POST if do == "key-holder" else None)
        if request.method == "POST":
            demand(request.user, Deed.RUN_FOOD, show)
            answered = _food_done(request, show, form, key_form, timezone.now())
            if answered:
                return answered
        context = {
            "show": show,
            "here": "food",
            "rounds": list(rounds_of(show)),
            "holders": key_holders(show),
            "book": food_book(show),
            "form": form,
            "key_form": key_form,
            "may_run": allowed(request.user, Deed.RUN_FOOD, show),
        }
        status = 422 if form.errors or key_form.errors else 200
        return render(request, "judging/food.html", context, status=status)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def food_round(request: HttpRequest, slug: str, round_id: int) -> HttpResponse:
    """Show one round with its tables by code; change it, draw it, close its marks."""
    show = show_for(request.user, slug, Deed.SEE_OFFICE)
    found = round_of(show, round_id)
    do = request.POST.get("do")
    with timezone.override(show.tz):
        form = RoundForm(request.POST if do == "change" else None, show=show, food=found)
        refused = ""
        if request.method == "POST":
            demand(request.user, Deed.RUN_FOOD, show)
            try:
                said = _round_done(found, do or "", form, person_of(request.user), timezone.now())
            except (InvalidInput, NotYet) as fault:
                said, refused = "", fault.detail
            if said:
                messages.success(request, said)
                return redirect("judging:food-round", slug, round_id)
            found = round_of(show, round_id)
        view = view_of_round(found)
        context = {
            "show": show,
            "here": "food",
            "view": view,
            "food": found,
            "gaps": telling_gaps(view),
            "key": key_of(found) if found.revealed_at else None,
            "holders": key_holders(show),
            "form": form,
            "refused": refused,
            "may_run": allowed(request.user, Deed.RUN_FOOD, show),
        }
        status = 422 if form.errors or refused else 200
        return render(request, "judging/food_round.html", context, status=status)


@never_cache
@require_safe
def food_slips(request: HttpRequest, slug: str, round_id: int) -> HttpResponse:
    """Print each judge's table on a slip of its own: codes only, no menu."""
    show = show_for(request.user, slug, Deed.SEE_OFFICE)
    view = view_of_round(round_of(show, round_id))
    if not view.tables:
        raise NotYet(_("The tables of this round are not drawn yet."))
    return render(request, "judging/food_slips.html", {"show": show, "view": view})


def _food_done(
    request: HttpRequest, show: Show, form: RoundForm, key_form: KeyHolderForm, at: datetime
) -> HttpResponse | None:
    """Do what was asked and go on; nothing where a form says what is wrong."""
    by = person_of(request.user)
    if form.is_bound and form.is_valid():
        made = _set_up(show, form, None, by, at)
        if made:
            messages.success(request, _("The round for {dish} is set up.").format(dish=made.dish))
            return redirect("judging:food-round", show.slug, made.pk)
    elif key_form.is_bound and key_form.is_valid():
        try:
            person = appoint_key_holder(show=show, **key_form.cleaned_data, by=by, at=at)
        except ShowError as fault:
            key_form.take(fault)
            return None
        messages.success(request, _("{person} holds the key now.").format(person=person.name))
        return redirect("judging:food", show.slug)
    elif not form.is_bound and not key_form.is_bound:
        raise InvalidInput(_("Set up a round or name the key holder: choose one of them."))
    return None


def _round_done(found: FoodRound, do: str, form: RoundForm, by: Person, at: datetime) -> str:
    if do == "change":
        if not form.is_valid():
            return ""
        return _("The round is changed.") if _set_up(found.show, form, found, by, at) else ""
    if do == "draw":
        draw_food(food=found, seed=secrets.randbits(SEED_BITS), by=by, at=at)
        return _("The tables are drawn. Only the key holder sees which wagon a code stands for.")
    if do == "close":
        close_food_marks(food=found, by=by, at=at)
        return _("The marks are closed. The key holder may open the key now.")
    raise InvalidInput(_("Change, draw or close: choose one of them."))


def _set_up(
    show: Show, form: RoundForm, old: FoodRound | None, by: Person, at: datetime
) -> FoodRound | None:
    given = {**form.cleaned_data, "judges": list(form.cleaned_data["judges"])}
    try:
        return set_up_food(show=show, **given, food=old, by=by, at=at)
    except ShowError as fault:
        form.take(fault)
        return None
