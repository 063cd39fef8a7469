"""Private calendar links, and the announced visits each of them gives."""

from __future__ import annotations

import hmac
from datetime import datetime

from django.utils.crypto import salted_hmac

from entries.models import Entry
from judging.models import CalendarLink, CalledOffVisit, Visit
from judging.queries.devices import hash_of
from judging.queries.timetables import called_off_visits, sections_at
from judging.queries.window import window_of
from judging.rules.windows.calendar import FeedVisit, feed, visit_uid
from showrun.shows.models import Show

SAFETY = "A score is not a safety inspection; local officials decide."


def link_by_token(token: str) -> CalendarLink | None:
    """Return the live link with this token, or None; which of the reasons is not told."""
    wanted = hash_of(token)
    links = CalendarLink.objects.live().select_related("show", "judge__person", "entry")
    link = links.filter(token_hash=wanted).first()
    # The database's own comparison is of hashes, which tell nothing of the token.
    return link if link and hmac.compare_digest(link.token_hash, wanted) else None


def live_links(show: Show) -> dict[tuple[str, int | None], CalendarLink]:
    """Return the show's working links by kind and the id of the judge or entry."""
    links = CalendarLink.objects.live().filter(show=show)
    return {(link.kind, link.judge_id or link.entry_id): link for link in links}


def link_of_entry(entry: Entry) -> CalendarLink | None:
    """Return the entry's working link."""
    return CalendarLink.objects.live().filter(kind=CalendarLink.Kind.ENTRY, entry=entry).first()


def feed_of(link: CalendarLink) -> bytes:
    """Write the link's announced visits; before they are published there are none."""
    return feed(_name(link), _visits(link))


def _name(link: CalendarLink) -> str:
    if link.judge is not None:
        return f"{link.show.name}: visits of {link.judge.person.name}"
    if link.entry is not None:
        return f"{link.show.name}: judges at {link.entry.wagon_name}"
    return f"{link.show.name}: judging"


def _visits(link: CalendarLink) -> list[FeedVisit]:
    window = window_of(link.show)
    if window is None or window.published_at is None:
        return []
    visits = window.visits.select_related("judge__person", "entry__spot")
    gone = CalledOffVisit.objects.filter(show=link.show)
    struck = {(one.judge_id, one.entry_id): one.revision for one in gone}
    sections = sections_at(link.show)
    planned = [
        _told(
            link,
            visit,
            changed_at=visit.changed_at or window.published_at,
            # A visit called off and announced again comes after its striking out.
            sequence=max(visit.revision, struck.get((visit.judge_id, visit.entry_id), -1) + 1),
            sections=sections.get((visit.judge_id, visit.entry_id), ""),
        )
        for visit in visits
        if _concerns(link, visit)
    ]
    return planned + [
        _told(link, one, changed_at=one.called_off_at, sequence=one.revision, called_off=True)
        for one in called_off_visits(link.show)
        if _concerns(link, one)
    ]


def _concerns(link: CalendarLink, visit: Visit | CalledOffVisit) -> bool:
    return link.judge_id in (None, visit.judge_id) and link.entry_id in (None, visit.entry_id)


def _told(
    link: CalendarLink,
    visit: Visit | CalledOffVisit,
    *,
    changed_at: datetime,
    sequence: int,
    sections: str = "",
    called_off: bool = False,
) -> FeedVisit:
    """Say a visit; to a wagon's people without its judge."""
    judge, entry, show = visit.judge, visit.entry, link.show
    words = {
        CalendarLink.Kind.OFFICE.value: f"{judge.code} at {entry.called}",
        CalendarLink.Kind.JUDGE.value: entry.called,
        CalendarLink.Kind.ENTRY.value: f"Judge visit: {entry.wagon_name}",
    }[link.kind]
    lines = [f"Judge: {judge}"] if link.kind == CalendarLink.Kind.OFFICE else []
    if sections:
        lines.append(f"Looks at: {sections}")
    return FeedVisit(
        uid=visit_uid(
            salted_hmac("judging.calendar", show.slug).digest(),
            show.slug,
            judge.code,
            str(entry.number or f"entry-{entry.pk}"),
        ),
        starts_at=visit.starts_at,
        ends_at=visit.ends_at,
        changed_at=changed_at,
        sequence=sequence,
        summary=f"Called off: {words}" if called_off else words,
        place=", ".join(filter(None, (str(entry.spot or "").capitalize(), show.ground))),
        description="\n".join([*lines, SAFETY]),
        called_off=called_off,
    )
