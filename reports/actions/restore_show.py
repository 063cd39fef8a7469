"""Bring a whole show back from its archive, into an empty instance or beside other shows.

All of the archive is checked before anything is written, and everything is written or nothing.

- Every row gets a new key, and links follow. No key of the archive's rows is given to another of
  its rows, so that what still goes by an old key leads nowhere. Only the numbers printed on paper
  cards, which are keys, stay where none of them is taken here.
- Persons are found by e-mail; whoever is here already keeps their name. Outfits are found by their
  exhibitor and wagon, and stay as they are here.
- The show comes under its own address, or under another one that is given.
- The ids phones made (touches, photos), the keys of the ledger, the payment provider's references
  and the codes printed on papers stay where none of them is taken here. Beside the original new
  ones are made of them and the new address, the same each time: a printed code goes on meaning the
  paper it was printed on, and a copy's papers bear the original's code until they are drawn again.
- A season is joined where it is here with the same points and does not count the show already;
  else it is made anew, beside the original under an address of its own, so that no class counts
  twice.
- No phone, calendar or passkey works by an archive: phones are paired and calendar links made anew.
- Fingerprints over keys are taken anew where they fitted; the record says which they were.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime

from django.db import DatabaseError, IntegrityError, connection, transaction

from reports.actions.check_archive import REFUSED, OpenArchive
from reports.actions.fingerprint_anew import fingerprint_anew
from reports.actions.insert_rows import Insertion
from reports.actions.own_ways import LONGEST_SLUG
from reports.queries.show_tables import SHOW, show_tables
from reports.rules.archive import ArchiveRefused
from showrun.errors import Conflict, InvalidInput
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show

_SLUG = re.compile(rf"[-a-zA-Z0-9_]{{1,{LONGEST_SLUG}}}")


@dataclass(frozen=True)
class Restored:
    """A show brought back."""

    show: Show
    rows: int
    files: int
    files_missing: int


def free_slug(archive: OpenArchive, as_slug: str | None) -> str:
    """Return the address the show will have, or say why it cannot have it."""
    slug = archive.manifest.slug if as_slug is None else as_slug
    if not _SLUG.fullmatch(slug):
        raise InvalidInput(
            _("“{slug}” is no address: letters, digits and hyphens, please.").format(slug=slug[:60])
        )
    if Show.objects.filter(slug=slug).exists():
        raise Conflict(
            _(
                "There is a show at “{slug}” already. Nothing is written over; give the "
                "archive's show another address with --as."
            ).format(slug=slug)
        )
    return slug


def restore_show(
    *, archive: OpenArchive, as_slug: str | None = None, by: Person | None = None, at: datetime
) -> Restored:
    """Write the archive's show, all of it or nothing; the archive is an open, checked one."""
    slug = free_slug(archive, as_slug)
    insertion = Insertion(archive, slug)
    try:
        with transaction.atomic():
            return _restored(insertion, by, at)
    except (IntegrityError, DatabaseError, OverflowError, ValueError) as fault:
        insertion.take_back_files()
        if isinstance(fault, ArchiveRefused):
            raise
        raise InvalidInput(
            f"The archive's rows do not fit together; nothing was written. ({fault})"[:400],
            code=REFUSED,
        ) from fault
    except BaseException:
        insertion.take_back_files()
        raise


def _restored(insertion: Insertion, by: Person | None, at: datetime) -> Restored:
    manifest = insertion.archive.manifest
    insertion.people()
    for table in show_tables():
        insertion.table(table)
    show = Show.objects.get(slug=insertion.slug)
    if (show.name, show.pk) != (manifest.name, *insertion.keys[SHOW].values()):
        raise ArchiveRefused("The archive's show is not the one its manifest names.")
    was = {new: old for old, new in insertion.keys["entries.entry"].items()}
    renamed = fingerprint_anew(show=show, was=was)
    connection.check_constraints()
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="restored",
        subject="the whole show from an archive",
        after={
            "was_at": manifest.slug,
            "made_at": manifest.made_at,
            "rows": manifest.rows,
            "results": [
                {"result": one.result, "fingerprint": one.now, "was": one.was} for one in renamed
            ],
        },
    )
    return Restored(show, manifest.rows, len(insertion.written), insertion.files_missing)
