"""What the office tells exhibitors."""

from __future__ import annotations

from django.db import models

from entries.models.entry import Entry
from showrun.shows.models import Person, Show


class OfficeMessage(models.Model):
    """A message to one entry, or to all of a show; once sent it stays as it was."""

    show = models.ForeignKey(Show, on_delete=models.PROTECT, related_name="+")
    entry = models.ForeignKey(
        Entry, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    text = models.TextField()
    sent_at = models.DateTimeField()
    sent_by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ("-id",)

    def __str__(self) -> str:
        return f"to {self.entry or 'all'}: {self.text[:40]}"
