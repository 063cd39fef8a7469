"""Keep a photo a judge's phone sent: once for each id, never a row without its file."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.core.files.base import ContentFile
from django.db import transaction

from judging.models import Criterion, Device, Judge, RoundPhoto, Seat
from judging.models.photo import file_name
from judging.rules.round.photo_limits import reason_against_another
from showrun.errors import Conflict, InvalidInput, NotFound, ShowError
from showrun.language import gettext as _
from showrun.shows.actions.shrink_photo import SmallPhoto, shrink_photo
from showrun.shows.rules.photos import reason_against_bytes


class PhotoTooLarge(ShowError):
    """More bytes than a photo may have."""

    status = 413
    code = "photo-too-large"
    title = "Too large a photo"


@dataclass(frozen=True)
class Kept:
    """The photo as it is kept, and whether it came for the first time."""

    photo: RoundPhoto
    new: bool


def keep_photo(
    *,
    device: Device,
    photo_id: UUID,
    entry_id: int,
    sent: bytes,
    criterion: str = "",
    at: datetime,
) -> Kept:
    """Keep the photo with the judge's card of the entry; the same photo again changes nothing.

    The picture is made small before anything is locked, and the refusals that cost nothing
    come before that.
    """
    demand_bytes(len(sent))
    sent_hash = hashlib.sha256(sent).hexdigest()
    known = _known(device, photo_id, sent_hash)
    if known is not None:
        return Kept(known, new=False)
    _demand_place(device, entry_id, criterion)
    _demand_room(device, entry_id)
    small = shrink_photo(sent)
    photo = RoundPhoto(
        id=photo_id,
        show_id=device.judge.show_id,
        judge_id=device.judge_id,
        device=device,
        entry_id=entry_id,
        criterion=criterion,
        sent_hash=sent_hash,
        width=small.width,
        height=small.height,
        size_bytes=len(small.jpeg),
        received_at=at,
    )
    return _write(photo, small)


def demand_bytes(size_bytes: int) -> None:
    """Refuse a photo too large to be taken."""
    reason = reason_against_bytes(size_bytes)
    if reason:
        raise PhotoTooLarge(reason)


def _known(device: Device, photo_id: UUID, sent_hash: str) -> RoundPhoto | None:
    """Return the photo if it was kept before; its id names nothing else ever."""
    photo = RoundPhoto.objects.filter(pk=photo_id).first()
    if photo is None:
        return None
    if photo.judge_id != device.judge_id or photo.sent_hash != sent_hash:
        raise Conflict(_("Another photo has this id already."), code="photo-id-reused")
    return photo


def _demand_place(device: Device, entry_id: int, criterion: str) -> None:
    """Refuse a photo of a wagon, or of a row, that is not this judge's."""
    seats = Seat.objects.filter(judge=device.judge_id, entry=entry_id)
    if not seats.exists():
        raise NotFound(_("This judge has no card for that entry."), code="not-your-card")
    rows = Criterion.objects.filter(section__in=seats.values("section"), code=criterion)
    if criterion and not rows.exists():
        raise InvalidInput(
            _("That row is not among the sections this judge has here."), code="criterion-not-yours"
        )


def _demand_room(device: Device, entry_id: int) -> None:
    kept = RoundPhoto.objects.filter(judge=device.judge_id, entry=entry_id).count()
    reason = reason_against_another(kept)
    if reason:
        raise Conflict(reason, code="photos-full")


def _write(photo: RoundPhoto, small: SmallPhoto) -> Kept:
    """Write row and file, or neither.

    The row comes first, so that the file's name is this photo's alone, and the file before the
    commit. A process that dies in between leaves a file without a row; the phone, which got no
    answer, sends the photo again, and the file is written over.
    """
    storage, name = photo.file.storage, file_name(photo, "")
    written = ""
    try:
        with transaction.atomic(durable=True):
            # One judge's phones queue up here, as they do with their touches.
            Judge.objects.select_for_update().values_list("pk").get(pk=photo.judge_id)
            known = _known(photo.device, photo.pk, photo.sent_hash)
            if known is not None:
                return Kept(known, new=False)
            _demand_room(photo.device, photo.entry_id)
            photo.file = name
            photo.save(force_insert=True)
            if storage.exists(name):
                storage.delete(name)
            written = name
            written = storage.save(name, ContentFile(small.jpeg))
            if written != name:
                photo.file = written
                photo.save(update_fields=["file"])
    except BaseException:
        if written:
            storage.delete(written)
        raise
    return Kept(photo, new=True)
