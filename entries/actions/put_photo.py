"""Give an entry or an outfit its photo, or take it away; no file stays that nobody uses."""

from __future__ import annotations

import hashlib

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import transaction

from entries.models import Entry, Outfit
from showrun.errors import InvalidInput
from showrun.shows.actions.shrink_photo import shrink_photo
from showrun.shows.rules.photos import reason_against_bytes


def small_photo(sent: bytes | None) -> bytes:
    """Paint the picture anew, small and without a word beside it; nothing for none."""
    if not sent:
        return b""
    if reason := reason_against_bytes(len(sent)):
        raise InvalidInput(reason, code="photo-too-large", fields={"photo": reason})
    return shrink_photo(sent).jpeg


def put_photo(row: Entry | Outfit, jpeg: bytes) -> None:
    """Keep a photo made small with its row; call it inside a transaction.

    The file's name is its content's hash, so the same photo again writes nothing.
    """
    storage, before = row.photo.storage, row.photo.name
    name = row.photo.field.generate_filename(row, f"{hashlib.sha256(jpeg).hexdigest()}.jpg")
    if name == before and storage.exists(name):
        return
    if not storage.exists(name):
        name = storage.save(name, ContentFile(jpeg))
    row.photo = name
    row.save(update_fields=["photo"])
    _forget_later(before)


def take_photo_away(row: Entry | Outfit) -> None:
    """Leave the row without a photo; call it inside a transaction."""
    before, row.photo = row.photo.name, ""
    row.save(update_fields=["photo"])
    _forget_later(before)


def photo_bytes(row: Entry | Outfit) -> bytes:
    """Read the row's photo; nothing where there is none, or its file is lost."""
    if not row.photo.name:
        return b""
    try:
        with row.photo.storage.open(row.photo.name) as file:
            return bytes(file.read())
    except FileNotFoundError:
        return b""


def _forget_later(name: str | None) -> None:
    if name:
        transaction.on_commit(lambda: _forget(name))


def _forget(name: str) -> None:
    """Remove the file, unless another row shows the same photo."""
    used = [rows.objects.filter(photo=name).exists() for rows in (Entry, Outfit)]
    if not any(used):
        default_storage.delete(name)
