"""Write one line of the record."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from showrun.shows.models import AuditEntry, Person, Show


def record_change(
    *,
    show: Show,
    actor: Person | None,
    at: datetime,
    verb: str,
    subject: str,
    before: Any = None,
    after: Any = None,
    reason: str = "",
    device: str = "",
) -> AuditEntry:
    """Add a line: who did what to what, before and after, and why.

    A subject too long for its line is cut there; what was changed stands whole beside it.
    """
    return AuditEntry.objects.create(
        show=show,
        actor=actor,
        at=at,
        verb=verb,
        subject=_cut(subject, AuditEntry.SUBJECT_MAX),
        before=before,
        after=after,
        reason=reason,
        device=_cut(device, AuditEntry.DEVICE_MAX),
    )


def _cut(text: str, longest: int) -> str:
    return text if len(text) <= longest else f"{text[: longest - 1]}…"
