"""Keep what an exhibitor brings, for the next show."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from entries.actions.put_photo import photo_bytes, put_photo
from entries.models import Entry, Outfit
from entries.queries.entering import outfit_named
from entries.rules.rig import FACTS


@transaction.atomic
def keep_outfit(*, entry: Entry, at: datetime) -> Outfit:
    """Keep the entry's wagon, rig, camp and photo with its exhibitor, under the wagon's name.

    An outfit kept under that name before takes on what the entry says; the entries of earlier
    shows keep their own copies. What the entry leaves open stays as it was kept. One kept for this
    entry alone takes on its new name.
    """
    kept = outfit_named(entry.exhibitor, entry.wagon_name) or _kept_for_it_alone(entry)
    kept.wagon_name, kept.name = entry.wagon_name, entry.outfit
    kept.history = entry.history or kept.history
    for fact in FACTS:
        setattr(kept, fact, getattr(entry, fact))
    kept.frontage_ft = entry.frontage_ft or kept.frontage_ft
    kept.depth_ft = entry.depth_ft or kept.depth_ft
    kept.kept_at, kept.put_away_at = at, None
    kept.save()
    if jpeg := photo_bytes(entry):
        put_photo(kept, jpeg)
    if entry.kept_outfit_id != kept.pk:
        entry.kept_outfit = kept
        entry.save(update_fields=["kept_outfit"])
    return kept


def _kept_for_it_alone(entry: Entry) -> Outfit:
    """Return the outfit no other entry came with; else a new one."""
    before = entry.kept_outfit
    if before is None or Entry.objects.filter(kept_outfit=before).exclude(pk=entry.pk).exists():
        return Outfit(exhibitor=entry.exhibitor)
    return before
