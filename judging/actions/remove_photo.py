"""Remove a judge's photo, with a reason that stays in the record."""

from __future__ import annotations

from datetime import datetime
from functools import partial

from django.db import transaction

from judging.models import RoundPhoto
from showrun.errors import InvalidInput
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person


@transaction.atomic
def remove_photo(*, photo: RoundPhoto, reason: str, by: Person, at: datetime) -> None:
    """Remove the row, and the file once that is certain; who, what and why stay in the record."""
    if not reason.strip():
        raise InvalidInput(_("Say why it is removed."), fields={"reason": _("A reason, please.")})
    storage, name, photo_id = photo.file.storage, str(photo.file.name), photo.pk
    gone, _unused = RoundPhoto.objects.filter(pk=photo_id).delete()
    if not gone:
        return
    record_change(
        show=photo.show,
        actor=by,
        at=at,
        verb="removed",
        subject=f"a photo by {photo.judge} of wagon {photo.entry}",
        before={
            "photo": str(photo_id),
            "row": photo.criterion,
            "received": photo.received_at.isoformat(),
        },
        reason=reason.strip()[:300],
        device=str(photo.device),
    )
    # A file that cannot be removed is a matter for the log; the photo is out of reach already.
    transaction.on_commit(partial(storage.delete, name), robust=True)
