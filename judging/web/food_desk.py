"""Away from the office: the turn-in table, which shows no code, and the key holder's page."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from judging.actions.food_rounds import open_key
from judging.actions.food_turn_in import take_back, take_dish
from judging.models import Dish, FoodRound
from judging.queries.food import demand_key, desk_of, key_of, round_of, rounds_of
from showrun.errors import Conflict, InvalidInput, NotFound, NotYet
from showrun.language import gettext as _
from showrun.shows.models import Person
from showrun.shows.queries import allowed, person_of, show_by_slug, show_for
from showrun.shows.rules.access import Deed
from showrun.shows.web.number_sent import number_sent

REFRESH_S = 10


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def turn_in(request: HttpRequest, slug: str, round_id: int | None = None) -> HttpResponse:
    """Take dishes in by wagon; the desk never shows a code, nor a number that follows one."""
    show = show_for(request.user, slug, Deed.TAKE_DISHES)
    rounds = [one for one in rounds_of(show) if one.drawn_at]
    now = timezone.now()
    found = round_of(show, round_id) if round_id else _next(rounds, now)
    if request.method == "POST" and found:
        said, well = _desk_done(request, found, now)
        messages.add_message(request, messages.SUCCESS if well else messages.WARNING, said)
        return redirect("judging:turn-in-round", slug, found.pk)
    dishes = desk_of(found) if found and found.drawn_at else []
    half = timedelta(minutes=found.window_minutes if found else 0)
    context = {
        "show": show,
        "rounds": rounds,
        "food": found,
        "dishes": dishes,
        "to_come": sum(dish.came_at is None for dish in dishes),
        "opens_at": found.posted_at - half if found else None,
        "closes_at": found.posted_at + half if found else None,
        "at": now,
        "refresh_s": REFRESH_S,
        "holds_key": allowed(request.user, Deed.KEEP_KEY, show),
        "in_office": allowed(request.user, Deed.SEE_OFFICE, show),
    }
    return render(request, "judging/food_desk.html", context)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def key_page(request: HttpRequest, slug: str) -> HttpResponse:
    """Show the key holder which wagon each code stands for; open the key."""
    show = show_by_slug(slug)
    demand_key(request.user, show)
    refused = ""
    if request.method == "POST":
        food = round_of(show, number_sent(request.POST.get("round")))
        try:
            open_key(
                food=food,
                reason=request.POST.get("reason", ""),
                by=person_of(request.user),
                at=timezone.now(),
            )
        except (NotYet, Conflict) as fault:
            refused = fault.detail
        else:
            messages.success(
                request, _("The key of {food} is open. The office sees it now.").format(food=food)
            )
            return redirect("judging:food-key", slug)
    rounds = [(one, key_of(one)) for one in rounds_of(show) if one.drawn_at]
    context = {"show": show, "rounds": rounds, "refused": refused}
    return render(request, "judging/food_key.html", context, status=409 if refused else 200)


def _next(rounds: Sequence[FoodRound], now: datetime) -> FoodRound | None:
    """Return the round whose posted time is nearest to now, among those not over."""
    going = [one for one in rounds if one.marks_closed_at is None] or list(rounds)
    return min(going, key=lambda one: abs(one.posted_at - now), default=None)


def _desk_done(request: HttpRequest, food: FoodRound, now: datetime) -> tuple[str, bool]:
    """Do what was touched; return the sentence, and whether it went well."""
    by = person_of(request.user)
    dish = _dish(request, food)
    try:
        if request.POST.get("do") == "take-back":
            return _took_back(dish, request.POST.get("reason", ""), by, now)
        said = take_dish(dish=dish, by=by, at=now)
    except (Conflict, NotYet, InvalidInput) as fault:
        return fault.detail, False
    return _("Wagon {number}: {why}").format(
        number=dish.entry.number, why=said.sentence
    ), said.taken


def _took_back(dish: Dish, reason: str, by: Person, now: datetime) -> tuple[str, bool]:
    take_back(dish=dish, reason=reason, by=by, at=now)
    return _("Wagon {number}: taken back. Its dish counts as not come yet.").format(
        number=dish.entry.number
    ), True


def _dish(request: HttpRequest, food: FoodRound) -> Dish:
    # By wagon: a dish's own number follows its code.
    number = number_sent(request.POST.get("wagon"))
    dishes = Dish.objects.select_related("entry")
    found = dishes.filter(round=food, entry__number=number).first()
    if found is None:
        raise NotFound(_("There is no such wagon in this round."))
    return found
