"""Tell exhibitors something: all of a show, or one wagon's."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from entries.actions.mail_message import mail_message
from entries.models import Entry, OfficeMessage
from entries.rules.message_text import fault_of_message, sent_twice
from entries.rules.places import Status
from showrun.errors import Conflict, InvalidInput
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show


@transaction.atomic
def tell(
    *,
    show: Show,
    entry: Entry | None,
    text: str,
    by: Person | None,
    at: datetime,
    site: str = "",
) -> OfficeMessage:
    """Send a message; once sent it stays as it was. E-mail follows when all is kept.

    `site` is where the service is reached, for the link in the mail.

    Raises
    ------
    InvalidInput
        When there are no words, or the wagon is not of this show.
    Conflict
        When the same words went to the same readers a moment ago.
    """
    words = text.replace("\r\n", "\n").strip()
    if fault := fault_of_message(words):
        raise InvalidInput(fault, fields={"text": fault})
    if entry is not None and (entry.show_id != show.pk or entry.status == Status.PRACTICE):
        raise InvalidInput(
            _("This show has no such wagon."),
            fields={"to": _("Choose a wagon of this show, or all.")},
        )
    Show.objects.select_for_update().get(pk=show.pk)  # a second tap waits for the first
    same = OfficeMessage.objects.filter(show=show, entry=entry, text=words)
    last = same.values_list("sent_at", flat=True).first()
    if sent_twice(last, at):
        raise Conflict(_("The same message went out a moment ago; it was not sent again."))
    message = OfficeMessage.objects.create(
        show=show, entry=entry, text=words, sent_at=at, sent_by=by
    )
    to = f"wagon {entry}" if entry else "all exhibitors"
    record_change(show=show, actor=by, at=at, verb="told", subject=to, after={"message": words})
    transaction.on_commit(lambda: mail_message(message=message, site=site))
    return message
