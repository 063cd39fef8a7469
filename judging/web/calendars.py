"""Calendar feeds without sign-in, and the doors at which their links are made and revoked."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from entries.models import Entry
from entries.queries.entries import entries_of, entry_for
from judging.actions.calendar_links import make_calendar_link, revoke_calendar_link
from judging.models import CalendarLink, Judge
from judging.queries.calendars import feed_of, link_by_token, live_links
from showrun.errors import InvalidInput, NotFound, ShowError
from showrun.language import gettext as _
from showrun.shows.models import Show
from showrun.shows.queries import person_of, show_for
from showrun.shows.rules.access import Deed
from showrun.shows.web.limits import client_ip, count_asks
from showrun.shows.web.number_sent import number_sent

CALENDAR_TYPE = "text/calendar; charset=utf-8"
# Programs read every quarter of an hour, and a whole camp may share one address.
READS_ALLOWED = 240
READS_SPAN_S = 60


@dataclass(frozen=True)
class Place:
    """Whose link it is, and the page one came from."""

    show: Show
    judge: Judge | None
    entry: Entry | None
    back: str

    @property
    def kind(self) -> CalendarLink.Kind:
        """Return the kind of the link."""
        if self.judge is not None:
            return CalendarLink.Kind.JUDGE
        return CalendarLink.Kind.ENTRY if self.entry is not None else CalendarLink.Kind.OFFICE

    def live(self) -> CalendarLink | None:
        """Return the link that works."""
        key = self.judge.pk if self.judge else self.entry.pk if self.entry else None
        return live_links(self.show).get((self.kind.value, key))


def _plain(words: str, status: int) -> HttpResponse:
    """Answer a program: the same words whoever asks, and nothing of what was asked."""
    return HttpResponse(f"{words}\n", status=status, content_type="text/plain; charset=utf-8")


def _too_often(request: HttpRequest) -> bool:
    return count_asks(f"calendar {client_ip(request)}", READS_SPAN_S) > READS_ALLOWED


@never_cache
@require_safe
def calendar_feed(request: HttpRequest, token: str) -> HttpResponse:
    """Give the announced times to whoever has the link; unknown and revoked look the same."""
    if _too_often(request):
        answer = _plain("Too many reads in a minute. Read again later.", 429)
        answer["Retry-After"] = str(READS_SPAN_S)
        return answer
    link = link_by_token(token)
    if link is None:
        return _plain("There is no calendar at this address.", 404)
    CalendarLink.objects.filter(pk=link.pk).update(last_read_at=timezone.now())
    answer = HttpResponse(feed_of(link), content_type=CALENDAR_TYPE)
    answer["Content-Disposition"] = f'inline; filename="{link.show.slug}-{link.kind}.ics"'
    answer["X-Robots-Tag"] = "noindex"
    return answer


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def office_calendar(request: HttpRequest, slug: str) -> HttpResponse:
    """Make or revoke the office's link, a judge's or a wagon's."""
    show = show_for(request.user, slug, Deed.RUN_WINDOW)
    back = reverse("judging:timetable", args=[slug]) + "#calendars"
    if request.method != "POST":
        return redirect(back)
    judge, entry = request.POST.get("judge", ""), request.POST.get("entry", "")
    place = Place(show, _judge(show, judge), _entry(show, entry), back)
    return _do(request, place)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def entry_calendar(request: HttpRequest, entry_id: int) -> HttpResponse:
    """Make or revoke the link of one's own entry."""
    entry = entry_for(request.user, entry_id, Deed.LINK_ENTRY)
    back = reverse("reports:my-entry", args=[entry.pk]) + "#visits-h"
    if request.method != "POST":
        return redirect(back)
    return _do(request, Place(entry.show, None, entry, back))


def _judge(show: Show, wanted: str) -> Judge | None:
    if not wanted:
        return None
    judges = Judge.objects.filter(show=show).select_related("person")
    judge = judges.filter(pk=number_sent(wanted)).first()
    if judge is None:
        raise NotFound(_("This show has no such judge."))
    return judge


def _entry(show: Show, wanted: str) -> Entry | None:
    if not wanted:
        return None
    entry = entries_of(show).filter(pk=number_sent(wanted)).first()
    if entry is None:
        raise NotFound(_("This show has no such entry."))
    return entry


def _do(request: HttpRequest, place: Place) -> HttpResponse:
    """Do what was sent; a new link is shown on the answer itself, this once."""
    by, at, do = person_of(request.user), timezone.now(), request.POST.get("do", "")
    if do == "make":
        link, token = make_calendar_link(
            show=place.show, judge=place.judge, entry=place.entry, by=by, at=at
        )
        return _shown_once(request, place, link, token)
    if do != "revoke":
        raise InvalidInput(_("Make or revoke: choose one of them."))
    live = place.live()
    try:
        if live is None:
            raise NotFound(_("There is no link to revoke."))
        revoke_calendar_link(link=live, by=by, at=at)
        messages.success(
            request, _("The link is revoked. Calendars that used it get nothing more.")
        )
    except ShowError as fault:
        messages.error(request, fault.detail)
    return redirect(place.back)


def _shown_once(request: HttpRequest, place: Place, link: CalendarLink, token: str) -> HttpResponse:
    address = request.build_absolute_uri(reverse("judging:calendar", args=[token]))
    context = {
        "show": place.show,
        "here": "window",
        "link": link,
        "feed_address": address,
        "subscribe": "webcal" + address[address.index("://") :],
        "back": place.back,
        "frame": "base.html" if place.entry is not None else "office_base.html",
    }
    return render(request, "judging/timetable_link.html", context)
