"""A judge's photo of a row or of a card: a memory aid, never part of a score."""

from __future__ import annotations

from django.db import models

from entries.models import Entry
from judging.models.device import Device
from judging.models.judge import Judge
from showrun.shows.models import Show


def file_name(photo: RoundPhoto, name: str) -> str:
    """Return where the photo is kept; nothing in the name tells of the entry."""
    return f"round-photos/{photo.show_id}/{photo.pk}.jpg"


class RoundPhoto(models.Model):
    """One photo, made small and stripped of all it says of place and phone."""

    id = models.UUIDField(primary_key=True, help_text="Made by the phone.")
    show = models.ForeignKey(Show, on_delete=models.PROTECT, related_name="+")
    judge = models.ForeignKey(Judge, on_delete=models.PROTECT, related_name="+")
    device = models.ForeignKey(Device, on_delete=models.PROTECT, related_name="+")
    entry = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="+")
    criterion = models.CharField(max_length=80, blank=True, help_text="Code of the row, or none.")
    sent_hash = models.CharField(max_length=64, help_text="SHA-256 of what the phone sent.")
    file = models.FileField(upload_to=file_name, max_length=160)
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    size_bytes = models.PositiveIntegerField()
    received_at = models.DateTimeField()

    class Meta:
        ordering = ("entry", "received_at")

    def __str__(self) -> str:
        return f"photo by {self.judge} of {self.entry}"
