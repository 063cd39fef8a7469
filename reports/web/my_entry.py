"""My entry: what to do next, when judges come, what they look at, and what came of it."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from entries.models import Entry
from entries.queries.crew import crew_shown, reads_names
from entries.queries.entries import entry_for
from entries.queries.lacking import lacking_of
from entries.queries.ledger import balance_of, postings_of
from entries.queries.messages import messages_to
from entries.queries.standing import standing_of
from entries.rules.places import Status
from judging.models import RigReport
from judging.queries.calendars import link_of_entry
from judging.queries.cards import class_cards
from judging.queries.results import released_placings
from judging.queries.rig_effects import found_in_words, reports_at
from judging.queries.seasons import seasons_of
from judging.queries.timetables import times_as_of
from judging.queries.window import window_of
from judging.web.public import sentences
from reports.queries.my_card import declared_by, rows_for
from reports.queries.my_next import steps_of
from reports.queries.my_outcomes import outcomes_of
from reports.queries.my_visits import VisitLine, visit_lines
from reports.rules.next_step import Step, Where
from reports.web.my_queries import QueryForm, my_queries, take_query
from showrun.language import gettext as _
from showrun.shows.models import Show
from showrun.shows.queries import allowed
from showrun.shows.rules.access import Deed
from showrun.shows.web.limits import limited

# On the day the page looks for changed times by itself; a field has little signal to spare.
REFRESH_S = 60


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@limited("query", 20)
def my_entry(request: HttpRequest, entry_id: int) -> HttpResponse:
    """Show an entry to its exhibitor, or to the office; take the exhibitor's queries."""
    if request.method != "POST":
        return _page(request, entry_for(request.user, entry_id, Deed.SEE_ENTRY))
    entry = entry_for(request.user, entry_id, Deed.ASK_QUERY)
    refused = take_query(request, entry, released_placings(entry), at=timezone.now())
    if refused is None:
        return redirect("reports:my-entry", entry.pk)
    return _page(request, entry, refused)


def _page(request: HttpRequest, entry: Entry, refused: QueryForm | None = None) -> HttpResponse:
    show, now = entry.show, timezone.now()
    found = [(report, found_in_words(report)) for report in reports_at(entry)]
    own = entry.exhibitor_id == request.user.pk
    context = {
        "show": show,
        "entry": entry,
        "own": own,
        "sees_office": allowed(request.user, Deed.SEE_OFFICE, show),
        "may_change": allowed(request.user, Deed.CHANGE_ENTRY, show, owner=own),
        "standing": standing_of(entry, now),
        "confirmed": entry.status == Status.CONFIRMED,
        "scratched": entry.status == Status.SCRATCHED,
        "crew": crew_shown(entry, in_full=reads_names(request.user, entry)),
        "lacking": lacking_of(entry),
        "told": messages_to(entry),
        "as_of": times_as_of(show, window_of(show)),
        "calendar": link_of_entry(entry),
        "may_link": allowed(request.user, Deed.LINK_ENTRY, show, owner=own),
        "cautions": sentences(show.cautions),
        "rig_query": urlencode(entry.rig.facts()),
        "rig_reports": found,
        "corrected": [
            words for report, words in reversed(found) if report.state == RigReport.State.ADOPTED
        ],
        **_money(request, entry, own=own),
        **_judging(entry, refused),
    }
    return render(request, "reports/my_entry.html", context, status=422 if refused else 200)


def _money(request: HttpRequest, entry: Entry, *, own: bool) -> dict[str, Any]:
    """Return what is owed, for those who may know it and where money was asked at all."""
    if not allowed(request.user, Deed.SEE_ENTRY_MONEY, entry.show, owner=own):
        return {"sees_money": False}
    return {"sees_money": postings_of(entry).exists(), "balance": balance_of(entry)}


def _still_today(visit: VisitLine, show: Show, now: datetime) -> bool:
    """Whether the judge is still to come or to leave, and it is the day."""
    day = visit.starts_at.astimezone(show.tz).date()
    return visit.ends_at > now and day == now.astimezone(show.tz).date()


def _judging(entry: Entry, refused: QueryForm | None) -> dict[str, Any]:
    """Return what judges do, class by class, and the step that comes next."""
    show, now = entry.show, timezone.now()
    taken = [row.show_class for row in entry.classes.select_related("show_class")]
    taken.sort(key=lambda show_class: (show_class.position, show_class.code))
    cards = {card.show_class_id: card for card in class_cards(show)}
    mine = [cards[show_class.pk] for show_class in taken if show_class.pk in cards]
    outcomes = outcomes_of(entry, taken, cards)
    released = [outcome for outcome in outcomes if outcome.placing]
    placings = [outcome.placing for outcome in outcomes if outcome.placing]
    queries = my_queries(entry, placings, at=now, refused=refused)
    visits, told = visit_lines(entry)
    today = any(_still_today(visit, show, now) for visit in visits)
    steps = steps_of(
        entry,
        now,
        visits=visits,
        places=[
            _("{place} in {show_class}").format(
                place=outcome.place, show_class=outcome.show_class.name
            )
            for outcome in released
        ],
        unreleased=len(outcomes) - len(released),
    )
    return {
        "classes": taken,
        "visits": visits,
        "times_told": told,
        "refresh_s": REFRESH_S if today else 0,
        "steps": [(step, step_url(step, entry)) for step in steps],
        "sections": rows_for(entry, mine),
        "declared": declared_by(taken, cards),
        "released": [(outcome, queries.get(outcome.show_class.pk)) for outcome in released],
        "unreleased": [outcome.show_class for outcome in outcomes if not outcome.placing],
        "seasons": _seasons(entry, [show_class.pk for show_class in taken]),
    }


def _seasons(entry: Entry, taken: list[int]) -> list[Any]:
    """Return the seasons in which a class of the entry counts, each once."""
    counted = [row.season for row in seasons_of(entry.show) if row.show_class_id in taken]
    return list({season.pk: season for season in counted}.values())


def step_url(step: Step, entry: Entry) -> str:
    """Return where a step is done; a part of the entry's own page where there is no other."""
    own = reverse("reports:my-entry", args=[entry.pk])
    pages = {
        Where.DETAILS: reverse("entries:details", args=[entry.pk]),
        Where.BALANCE: reverse("entries:money-entry", args=[entry.pk]),
        Where.PREPARE: f"{reverse('judging:prepare', args=[entry.show.slug])}"
        f"?{urlencode(entry.rig.facts())}",
    }
    if step.where is Where.NOWHERE:
        return ""
    if step.where not in pages:
        return f"{own}#{step.where}"
    return f"{pages[step.where]}#{step.more}" if step.more else pages[step.where]
