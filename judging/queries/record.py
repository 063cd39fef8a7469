"""The record as the office reads it."""

from __future__ import annotations

from django.db.models import Q, QuerySet

from showrun.shows.models import AuditEntry, Show


def record_of(show: Show, *, text: str = "") -> QuerySet[AuditEntry]:
    """Return the show's record, newest first, narrowed to lines that hold every word of `text`."""
    lines = AuditEntry.objects.filter(show=show).select_related("actor")
    for word in text.split():
        lines = lines.filter(
            Q(verb__icontains=word)
            | Q(subject__icontains=word)
            | Q(reason__icontains=word)
            | Q(device__icontains=word)
            | Q(actor__name__icontains=word)
        )
    return lines
