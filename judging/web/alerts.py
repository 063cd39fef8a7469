"""What the office must hear of within seconds, on whichever of its pages somebody is."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from judging.models import RoundEvent, SafetyConcern
from judging.queries.held import HeldEvent, concerns_among
from judging.queries.progress import held_events
from judging.queries.rigs import open_rig_reports
from judging.queries.stages import unseen_concerns
from judging.rules.round.events import Degree
from judging.web.progress_grid import ago
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.shows.models import Show
from showrun.shows.queries import allowed, show_for
from showrun.shows.rules.access import Deed

# Graver ones first; the rest are counted, so that no number of them buries the page.
SHOWN = 4
IN_TITLE = {Degree.STOP: N_("{n} stop"), Degree.MEND: N_("{n} mend"), Degree.NOTE: N_("{n} note")}


@dataclass(frozen=True)
class AlertLine:
    """One safety concern nobody in the office has seen, or one that could not be filed."""

    key: str
    degree: str
    title: str
    text: str
    source: str
    at: datetime
    ago: str
    # None: it is stuck in a held event, which is settled with a note.
    concern_id: int | None


@dataclass(frozen=True)
class Alerts:
    """The lines in order of gravity, and how much else waits."""

    lines: tuple[AlertLine, ...]
    more: int
    n_held: int
    n_rigs: int
    in_title: str

    @property
    def stop(self) -> list[AlertLine]:
        """What is read out at once."""
        return [line for line in self.lines if line.degree == Degree.STOP]

    @property
    def rest(self) -> list[AlertLine]:
        """What is read out when the reader comes to it."""
        return [line for line in self.lines if line.degree != Degree.STOP]

    def tag(self, *further: object) -> str:
        """Return an entity tag that changes with anything that is shown."""
        seen = repr((self, further)).encode()
        return f'W/"{hashlib.sha256(seen).hexdigest()[:32]}"'


def _raised(concern: SafetyConcern, at: datetime) -> AlertLine:
    words, spot = Degree(concern.degree).words.capitalize(), concern.entry.spot
    title = _("{degree}: wagon {entry}").format(degree=words, entry=concern.entry.called)
    if spot:
        title = _("{degree}: wagon {entry}, camp spot {number}").format(
            degree=words, entry=concern.entry.called, number=spot.number
        )
    return AlertLine(
        key=f"concern-{concern.pk}",
        degree=concern.degree,
        title=title,
        text=f"{concern.criterion}. {concern.text}" if concern.criterion else concern.text,
        source=_("Raised by {judge}").format(judge=concern.judge),
        at=concern.raised_at,
        ago=ago(concern.raised_at, at=at),
        concern_id=concern.pk,
    )


def _stuck(held: HeldEvent, at: datetime) -> AlertLine:
    """A concern in an event that took no effect; one that cannot be read counts as the gravest."""
    event = held.event
    degree = str(event.body.get("degree"))
    return AlertLine(
        key=f"event-{event.pk}",
        degree=degree if degree in set(Degree) else Degree.STOP.value,
        title=_("A safety concern could not be filed"),
        text=f"{held.sent}. {event.reason}",
        source=_("From {judge}").format(judge=event.device.judge),
        at=event.received_at,
        ago=ago(event.received_at, at=at),
        concern_id=None,
    )


def alerts_of(
    show: Show,
    *,
    concerns: Iterable[SafetyConcern],
    held: Iterable[RoundEvent],
    n_rigs: int,
    at: datetime,
) -> Alerts:
    """Put what waits for the office into lines, gravest and oldest first."""
    held = list(held)
    stuck = concerns_among(show, held)
    lines = [_raised(concern, at) for concern in concerns]
    lines += [_stuck(event, at) for event in stuck]
    order = [degree.value for degree in (Degree.STOP, Degree.MEND, Degree.NOTE)]
    lines.sort(key=lambda line: (order.index(line.degree), line.at, line.key))
    counts = Counter(line.degree for line in lines)
    return Alerts(
        lines=tuple(lines[:SHOWN]),
        more=max(0, len(lines) - SHOWN),
        n_held=len(held) - len(stuck),
        n_rigs=n_rigs,
        in_title=", ".join(
            _(words).format(n=counts[degree])
            for degree, words in IN_TITLE.items()
            if counts[degree]
        ),
    )


@never_cache
@require_safe
def alerts(request: HttpRequest, slug: str) -> HttpResponse:
    """Answer with the lines alone, or with 304 while nothing has changed."""
    show = show_for(request.user, slug, Deed.SEE_OFFICE)
    found = alerts_of(
        show,
        concerns=unseen_concerns(show),
        held=held_events(show),
        n_rigs=len(open_rig_reports(show)),
        at=timezone.now(),
    )
    context = {
        "show": show,
        "alerts": found,
        "may_settle": allowed(request.user, Deed.SETTLE, show),
        "back": request.GET.get("back", ""),
    }
    tag = found.tag(context["may_settle"], context["back"])
    answer = render(request, "judging/alerts.html", context)
    answer["ETag"] = tag
    return get_conditional_response(request, etag=tag, response=answer) or answer
