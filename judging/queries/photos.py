"""Judges' photos: each judge's own for the phone, all of a show for its office."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db.models import QuerySet

from judging.models import Criterion, Judge, RoundPhoto
from judging.rules.round.photo_limits import PER_CARD
from showrun.shows.models import Show
from showrun.shows.rules.photos import LONG_SIDE_PX


def limits() -> dict[str, int]:
    """Return what a phone keeps to by itself."""
    return {"per_card": PER_CARD, "max_px": LONG_SIDE_PX}


def photos_by_entry(judge: Judge) -> dict[int, list[dict[str, Any]]]:
    """Return the judge's photos by entry, as the phone knows them, in the order they came."""
    found: dict[int, list[dict[str, Any]]] = defaultdict(list)
    mine = RoundPhoto.objects.filter(judge=judge).order_by("received_at", "pk")
    for photo_id, entry_id, criterion in mine.values_list("pk", "entry", "criterion"):
        found[entry_id].append({"id": str(photo_id), "criterion": criterion})
    return found


def photo_of(judge: Judge, photo_id: UUID) -> RoundPhoto | None:
    """Return the photo if it is this judge's own."""
    return RoundPhoto.objects.filter(judge=judge, pk=photo_id).first()


def photo_by_id(photo_id: UUID) -> RoundPhoto | None:
    """Return a photo with whose it is."""
    whose = RoundPhoto.objects.select_related("show", "judge__person", "entry", "device")
    return whose.filter(pk=photo_id).first()


def photos_of(show: Show) -> QuerySet[RoundPhoto]:
    """Return the show's photos, wagon by wagon, in the order they came."""
    here = RoundPhoto.objects.filter(show=show).select_related("judge__person", "entry")
    return here.order_by("entry__number", "entry_id", "received_at", "pk")


@dataclass(frozen=True)
class PhotoLine:
    """A photo, with the name of its row."""

    photo: RoundPhoto
    row: str


def with_rows(show: Show, photos: Iterable[RoundPhoto]) -> list[PhotoLine]:
    """Return the photos with the names their rows have on the card in use, or had before."""
    there = list(photos)
    rows = Criterion.objects.filter(
        section__scorecard__show=show, code__in={photo.criterion for photo in there}
    ).order_by("section__scorecard__in_use", "section__scorecard__version")
    names = dict(rows.values_list("code", "name"))
    return [PhotoLine(photo, names.get(photo.criterion, photo.criterion)) for photo in there]
