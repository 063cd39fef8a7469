"""The judging window and the visits in it."""

from __future__ import annotations

from django.db import models

from entries.models import Entry
from judging.models.judge import Judge
from showrun.shows.models import Show


class Window(models.Model):
    """A span of time sized to the wagons; published once the office stands by it."""

    show = models.OneToOneField(Show, on_delete=models.PROTECT, related_name="+")
    opens_at = models.DateTimeField()
    available_minutes = models.PositiveIntegerField()
    needed_minutes = models.PositiveIntegerField()
    bound_minutes = models.PositiveIntegerField(help_text="No rotation can be shorter.")
    proven = models.BooleanField(help_text="Whether no shorter rotation exists.")
    solver = models.CharField(max_length=80)
    advice = models.JSONField(default=list)
    likely_minutes = models.PositiveIntegerField(
        null=True, help_text="Nine days of ten end within this."
    )
    chance = models.FloatField(null=True, help_text="Share of days that end inside the window.")
    published_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"{self.needed_minutes} of {self.available_minutes} minutes"

    @property
    def fits(self) -> bool:
        """Whether the rotation ends inside the window."""
        return self.needed_minutes <= self.available_minutes


class Visit(models.Model):
    """One judge's stay at one entry."""

    window = models.ForeignKey(Window, on_delete=models.CASCADE, related_name="visits")
    judge = models.ForeignKey(Judge, on_delete=models.PROTECT, related_name="+")
    entry = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="+")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    revision = models.PositiveIntegerField(
        default=0, help_text="Raised whenever announced times change, for calendars."
    )
    changed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("starts_at", "judge__code")
        constraints = (
            models.UniqueConstraint(fields=["window", "judge", "entry"], name="visit_once"),
        )

    def __str__(self) -> str:
        return f"{self.judge} at {self.entry}, {self.starts_at:%H:%M}"
