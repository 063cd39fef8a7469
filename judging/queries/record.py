"""The record as the office reads it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db.models import Q, QuerySet

from showrun.shows.models import AuditEntry, Person, Show


@dataclass(frozen=True)
class Asked:
    """Which lines are asked for: words they hold, who, what kind of change, on which day."""

    text: str = ""
    who: int | None = None
    verb: str = ""
    day: date | None = None


def record_of(show: Show, asked: Asked = Asked()) -> QuerySet[AuditEntry]:
    """Return the show's record, newest first, narrowed to what is asked for."""
    lines = AuditEntry.objects.filter(show=show).select_related("actor")
    for word in asked.text.split():
        lines = lines.filter(
            Q(verb__icontains=word)
            | Q(subject__icontains=word)
            | Q(reason__icontains=word)
            | Q(device__icontains=word)
            | Q(actor__name__icontains=word)
        )
    if asked.who is not None:
        # 0: what the service did by itself.
        lines = lines.filter(actor=asked.who) if asked.who else lines.filter(actor__isnull=True)
    if asked.verb:
        lines = lines.filter(verb=asked.verb)
    if asked.day:
        begins = datetime.combine(asked.day, time(), tzinfo=show.tz)
        ends = datetime.combine(asked.day + timedelta(days=1), time(), tzinfo=show.tz)
        lines = lines.filter(at__gte=begins, at__lt=ends)
    return lines


def kinds_of_change(show: Show) -> list[str]:
    """Return every kind of change the show's record has."""
    lines = AuditEntry.objects.filter(show=show).order_by("verb")
    return list(lines.values_list("verb", flat=True).distinct())


def people_in_record(show: Show) -> list[Person]:
    """Return everybody who changed something in the show, by name."""
    actors = AuditEntry.objects.filter(show=show, actor__isnull=False).order_by()
    return list(Person.objects.filter(pk__in=actors.values("actor")).order_by("name", "pk"))
