"""What the office saw when a wagon came onto the ground."""

from __future__ import annotations

from django.db import models

from entries.models.entry import Entry
from showrun.shows.models import Person


class CheckIn(models.Model):
    """An entry at the gate: each tick is something a person saw; none is an inspection."""

    NOTE_MAX = 200

    entry = models.OneToOneField(Entry, on_delete=models.PROTECT, related_name="+")
    arrived_at = models.DateTimeField(null=True, blank=True)
    papers_seen_at = models.DateTimeField(null=True, blank=True)
    crew_seen_at = models.DateTimeField(null=True, blank=True)
    plate_given_at = models.DateTimeField(null=True, blank=True)
    on_spot_at = models.DateTimeField(null=True, blank=True)
    note = models.CharField(max_length=NOTE_MAX, blank=True)
    changed_at = models.DateTimeField()
    changed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"check-in of {self.entry}"
