"""What is read of judges' phones."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping

from django.db.models import Count, Q

from entries.models import Entry
from judging.models import Card, Device, Judge, RoundEvent, Seat
from judging.models.device import DeviceQuerySet
from judging.queries.panel import seats_of
from showrun.shows.models import Show


def hash_of(secret: str) -> str:
    """Return what is kept of a pairing code or a token; the secret itself is not."""
    return hashlib.sha256(secret.encode()).hexdigest()


def device_by_token(token: str) -> Device | None:
    """Return the phone that was given this token."""
    found = Device.objects.select_related("judge__person")
    return found.filter(token_hash=hash_of(token)).first()


def in_use(judge: Judge) -> DeviceQuerySet:
    """Return the judge's phones that are not shut out."""
    return Device.objects.phones().filter(judge=judge, revoked_at=None)


def judges_at_work(show: Show) -> set[int]:
    """Return the judges, by id, who have cards still to hand in."""
    done = Card.objects.filter(judge__show=show, handed_in_at__isnull=False)
    handed_in = set(done.values_list("judge_id", "entry_id"))
    seated = set(seats_of(show).order_by().values_list("judge_id", "entry_id"))
    return {judge_id for judge_id, _ in seated - handed_in}


def kept_aside(show: Show) -> Mapping[int, int]:
    """Count what waits for the office of each phone that was shut out, by its id."""
    shut_out = Q(device__revoked_at__isnull=False) | Q(device__judge__person__is_active=False)
    held = RoundEvent.objects.filter(shut_out, show=show, applied=False, settled_at__isnull=True)
    return dict(held.order_by().values_list("device_id").annotate(n=Count("pk")))


def wagons_of_namesakes(judge: Judge, name: str) -> list[Entry]:
    """Return the judge's wagons whose exhibitor or crew bears this name."""
    wanted = _plain(name)
    mine = Seat.objects.filter(judge=judge).order_by().values("entry")
    entries = Entry.objects.filter(pk__in=mine).select_related("exhibitor")
    return [
        entry
        for entry in entries.prefetch_related("crew")
        if wanted in {_plain(entry.exhibitor.name), *(_plain(one.name) for one in entry.crew.all())}
    ]


def _plain(name: str) -> str:
    return " ".join(name.split()).casefold()
