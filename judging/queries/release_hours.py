"""Hours at which signed results go out by themselves, and releases that were stopped."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from judging.models import Result
from showrun.shows.models import AuditEntry, Show

STOPPED = "could not release at its hour"


@dataclass(frozen=True)
class StoppedRelease:
    """A release that did not come at its hour."""

    version: int
    due_at: datetime
    why: str


def due_results(*, at: datetime, show: Show | None = None) -> list[int]:
    """Return the ids of results whose hour of release has come."""
    due = Result.objects.filter(release_due_at__lte=at, released_at__isnull=True)
    if show is not None:
        due = due.filter(show_class__show=show)
    return list(due.order_by("release_due_at", "pk").values_list("pk", flat=True))


def stopped_releases(show: Show) -> dict[int, StoppedRelease]:
    """Return the last release that was stopped, by class id."""
    lines = AuditEntry.objects.filter(show=show, verb=STOPPED).order_by("id")
    return {
        line.after["class"]: StoppedRelease(
            line.after["version"], datetime.fromisoformat(line.before["due"]), line.reason
        )
        for line in lines
    }
