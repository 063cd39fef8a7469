"""What people were told of the times: announcements, and visits called off."""

from __future__ import annotations

from typing import Any

from django.db import models

from entries.models import Entry
from judging.models.judge import Judge
from showrun.shows.models import Person, Show


class Announcement(models.Model):
    """One change of announced times, told as a whole; number 1 is the first publication."""

    show = models.ForeignKey(Show, on_delete=models.CASCADE, related_name="+")
    number = models.PositiveIntegerField()
    at = models.DateTimeField()
    by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    reason = models.CharField(max_length=200, blank=True)
    changes: models.JSONField[Any, Any] = models.JSONField(
        default=list, help_text="A line a visit: judge, entry, times before and after."
    )

    class Meta:
        ordering = ("-number",)
        constraints = (
            models.UniqueConstraint(fields=["show", "number"], name="announcement_number_once"),
        )

    def __str__(self) -> str:
        return f"announcement {self.number} of {self.show}"


class CalledOffVisit(models.Model):
    """An announced visit that will not take place, kept so that calendars can strike it out."""

    show = models.ForeignKey(Show, on_delete=models.CASCADE, related_name="+")
    judge = models.ForeignKey(Judge, on_delete=models.PROTECT, related_name="+")
    entry = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="+")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    revision = models.PositiveIntegerField()
    called_off_at = models.DateTimeField()

    class Meta:
        ordering = ("starts_at", "judge__code")
        constraints = (
            models.UniqueConstraint(
                fields=["show", "judge", "entry"], name="visit_called_off_once"
            ),
        )

    def __str__(self) -> str:
        return f"{self.judge} not at {self.entry}"
