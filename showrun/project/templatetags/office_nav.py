"""The pages of the office, in the order of a show, and for each the deed that opens it."""

from __future__ import annotations

from typing import Any, NamedTuple

from django import template
from django.template import Context
from django.urls import reverse

from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.shows.queries import roles_of
from showrun.shows.rules.access import Deed, may

register = template.Library()


class Page(NamedTuple):
    """One page: its address, the name a view gives it as `here`, and its words."""

    route: str
    here: str
    words: str
    deed: Deed = Deed.SEE_OFFICE


class Part(NamedTuple):
    """Pages that are used at one time, under a heading; the first has none."""

    heading: str
    pages: tuple[Page, ...]


class Link(NamedTuple):
    """A page as it stands in the list."""

    address: str
    words: str
    is_here: bool


OFFICE = (
    Part("", (Page("reports:office", "start", N_("Start")),)),
    Part(
        N_("Before judging"),
        (
            Page("judging:show-facts", "facts", N_("The show"), Deed.RUN_TERMS),
            Page("entries:terms", "terms", N_("Terms"), Deed.RUN_TERMS),
            Page("entries:office-entries", "entries", N_("Entries")),
            Page("entries:camp", "camp", N_("Camp")),
            Page("entries:money", "money", N_("Money"), Deed.RUN_MONEY),
            Page("entries:messages", "messages", N_("Messages")),
            Page("judging:judges", "judges", N_("Judges")),
            Page("judging:scorecard", "scorecard", N_("Scorecard")),
            Page("judging:panel", "panel", N_("Panel")),
            Page("judging:window", "window", N_("Window")),
            Page("judging:norming", "norming", N_("Norming")),
        ),
    ),
    Part(
        N_("While judging"),
        (
            Page("entries:check-in", "check-in", N_("Check-in")),
            Page("judging:day", "day", N_("Running day")),
            Page("judging:progress", "progress", N_("Progress")),
            Page("judging:paper-cards", "paper-cards", N_("Paper cards")),
            Page("judging:receipts", "receipts", N_("Receipts")),
            Page("judging:photos", "photos", N_("Photos")),
            Page("judging:questions", "questions", N_("Questions")),
            Page("judging:checks", "checks", N_("Checks")),
            Page("judging:food", "food", N_("Food tables")),
        ),
    ),
    Part(
        N_("After judging"),
        (
            Page("judging:office-results", "results", N_("Results")),
            Page("judging:agreement", "agreement", N_("Agreement")),
            Page("judging:queries", "queries", N_("Queries")),
            Page("judging:call-list", "", N_("Announcer's list"), Deed.READ_CALL_LIST),
            Page("judging:office-seasons", "seasons", N_("Seasons")),
            Page("reports:papers", "papers", N_("Papers"), Deed.MAKE_PAPERS),
            Page("judging:record", "record", N_("Record")),
            Page("shows:people", "people", N_("People"), Deed.RUN_PEOPLE),
            Page("reports:archive", "archive", N_("Archive"), Deed.MOVE_SHOW),
        ),
    ),
)


@register.inclusion_tag("office_nav.html", takes_context=True)
def office_nav(context: Context) -> dict[str, Any]:
    """List the pages by part, those alone that the reader may open.

    A view that has asked for the reader's roles already hands them on as `own_roles`.
    """
    show, here = context["show"], context.get("here", "")
    roles = context.get("own_roles")
    if roles is None:
        roles = roles_of(context["request"].user, show)
    parts = [
        {
            "heading": _(part.heading) if part.heading else "",
            "links": [
                Link(reverse(page.route, args=[show.slug]), _(page.words), page.here == here != "")
                for page in part.pages
                if may(roles, page.deed)
            ],
        }
        for part in OFFICE
    ]
    return {"parts": parts}
