"""Mail every offered place to its exhibitor once; the record says when it was set about."""

from __future__ import annotations

from datetime import datetime

import structlog
from django.conf import settings
from django.core.mail import send_mail
from django.db import transaction
from django.template.loader import render_to_string
from django.urls import reverse

from entries.models import Entry
from entries.rules.offers import deadline_words, ran_out
from entries.rules.places import Status
from showrun.language import gettext as _
from showrun.language import in_language
from showrun.shows.actions.record import record_change
from showrun.shows.models import AuditEntry, Show

log = structlog.get_logger(__name__)

# Written before the mail goes, since two workers must not both send it.
MAILING = "mailing the offer"
NOT_MAILED = "could not mail the offer"
TRIES = 5


def mail_offers(*, at: datetime) -> list[Entry]:
    """Mail what is offered and was not mailed yet; a mail that failed is tried again, then left."""
    offered = Entry.objects.filter(status=Status.OFFERED.value, take_up_by__gte=at)
    return [entry for entry in offered.order_by("id") if _claim(entry, at) and _mail(entry, at)]


def _offer(entry: Entry) -> dict[str, object]:
    """Say which offer is meant: an entry may be offered a place more than once."""
    offered_at = entry.offered_at.isoformat() if entry.offered_at else ""
    return {"entry": entry.pk, "offered_at": offered_at}


@transaction.atomic
def _claim(entry: Entry, at: datetime) -> bool:
    """Write the mail down before it goes: two workers must not both send it."""
    Show.objects.select_for_update().get(pk=entry.show_id)
    entry.refresh_from_db()
    deadline = entry.take_up_by
    if entry.status != Status.OFFERED or deadline is None or ran_out(deadline, at):
        return False
    lines = AuditEntry.objects.filter(
        show=entry.show_id, verb__in=[MAILING, NOT_MAILED], after__entry=entry.pk
    )
    of_this = [line.verb for line in lines if line.after == _offer(entry)]
    tries = of_this.count(MAILING)
    if tries > of_this.count(NOT_MAILED) or tries >= TRIES:
        return False
    _record(entry, MAILING, at)
    return True


def _mail(entry: Entry, at: datetime) -> bool:
    show, deadline = entry.show, entry.take_up_by
    assert deadline is not None
    site = str(settings.PUBLIC_URL).rstrip("/")
    with in_language(entry.exhibitor.language):
        context = {
            "entry": entry,
            "show": show,
            "until": deadline_words(deadline, show.tz),
            "link": site and f"{site}{reverse('reports:my-entry', args=[entry.pk])}",
        }
        text = render_to_string("entries/offer_mail.txt", context)
        subject = _("A place for {wagon} at {show}").format(wagon=entry.wagon_name, show=show.name)
    try:
        send_mail(" ".join(subject.split()), text, None, [entry.exhibitor.email])
    except OSError:
        log.exception("offer could not be mailed", entry=entry.pk)
        _record(entry, NOT_MAILED, at)
        return False
    return True


def _record(entry: Entry, verb: str, at: datetime) -> None:
    subject = f"entry {entry.wagon_name}"
    record_change(
        show=entry.show, actor=None, at=at, verb=verb, subject=subject, after=_offer(entry)
    )
