"""Mail a message of the office to those it is for."""

from __future__ import annotations

from typing import Any

import structlog
from django.conf import settings
from django.core.mail import EmailMessage, get_connection
from django.template.loader import render_to_string
from django.urls import reverse

from entries.models import OfficeMessage
from entries.queries.messages import readers_of
from showrun.language import gettext as _
from showrun.language import in_language
from showrun.shows.models import Person

log = structlog.get_logger(__name__)


def _mail(reader: Person, context: dict[str, Any]) -> EmailMessage:
    """Put the office's own words into what is said around them in the reader's language."""
    with in_language(reader.language):
        text = render_to_string("entries/message_mail.txt", context)
        show = " ".join(context["show"].name.split())
        subject = _("A message from {show}").format(show=show)
    return EmailMessage(subject, text, None, [reader.email])


def mail_message(*, message: OfficeMessage, site: str = "") -> int:
    """Mail it, to each reader apart so that nobody reads another's address.

    The page of the entry is what counts: where mail fails, the message still stands there, and
    the log says so. Without a `site` the mail has no link.
    """
    site, show = (site or str(settings.PUBLIC_URL)).rstrip("/"), message.show
    if message.entry:
        address = reverse("reports:my-entry", args=[message.entry.pk])
    else:
        address = reverse("reports:home")
    context = {"message": message, "show": show, "link": f"{site}{address}" if site else ""}
    mails = [_mail(person, context) for person in readers_of(message)]
    try:
        return get_connection().send_messages(mails) or 0
    except OSError:
        log.exception("message could not be mailed", message_id=message.pk, readers=len(mails))
        return 0
