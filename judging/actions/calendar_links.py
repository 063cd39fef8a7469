"""Make and revoke the private links by which calendar programs read announced times."""

from __future__ import annotations

import secrets
from datetime import datetime

from django.db import transaction

from entries.models import Entry
from judging.models import CalendarLink, Judge
from judging.queries.devices import hash_of
from showrun.errors import Conflict, InvalidInput
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show

TOKEN_BYTES = 32


@transaction.atomic
def make_calendar_link(
    *,
    show: Show,
    judge: Judge | None = None,
    entry: Entry | None = None,
    by: Person | None,
    at: datetime,
) -> tuple[CalendarLink, str]:
    """Make the one working link of a judge, an entry or the whole show, and return its token.

    The token is told this once and kept only as a hash; a link made before stops working.
    """
    if judge is not None and entry is not None:
        raise InvalidInput(_("A calendar is of a judge, of a wagon or of the whole show."))
    if {one.show_id for one in (judge, entry) if one is not None} - {show.pk}:
        raise InvalidInput(_("That judge or wagon belongs to another show."))
    # Two who make one at the same time come one after the other.
    Show.objects.select_for_update().get(pk=show.pk)
    kind = _kind(judge, entry)
    before = CalendarLink.objects.live().filter(show=show, kind=kind, judge=judge, entry=entry)
    replaced = before.update(revoked_at=at)
    token = secrets.token_urlsafe(TOKEN_BYTES)
    link = CalendarLink.objects.create(
        show=show,
        kind=kind,
        judge=judge,
        entry=entry,
        token_hash=hash_of(token),
        made_at=at,
        made_by=by,
    )
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="made",
        subject=f"a {link}",
        after={"kind": link.kind, "replaces_one": bool(replaced)},
    )
    return link, token


@transaction.atomic
def revoke_calendar_link(*, link: CalendarLink, by: Person | None, at: datetime) -> None:
    """Stop the link from working; whoever subscribed to it gets nothing any more."""
    if not CalendarLink.objects.live().filter(pk=link.pk).update(revoked_at=at):
        raise Conflict(_("This calendar link was revoked already."))
    record_change(
        show=link.show,
        actor=by,
        at=at,
        verb="revoked",
        subject=f"the {link}",
        before={"kind": link.kind},
    )


def _kind(judge: Judge | None, entry: Entry | None) -> CalendarLink.Kind:
    if judge is not None:
        return CalendarLink.Kind.JUDGE
    return CalendarLink.Kind.OFFICE if entry is None else CalendarLink.Kind.ENTRY
