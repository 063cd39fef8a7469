"""The record: who changed what, and why. Lines are added, never edited."""

from __future__ import annotations

from typing import Any, NoReturn

from django.db import models

from showrun.shows.models.person import Person
from showrun.shows.models.show import Show


class AuditEntry(models.Model):
    """One change of something that matters, with its reason."""

    SUBJECT_MAX = 160
    DEVICE_MAX = 80

    show = models.ForeignKey(Show, on_delete=models.PROTECT, related_name="record")
    at = models.DateTimeField()
    actor = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    device = models.CharField(max_length=DEVICE_MAX, blank=True)
    verb = models.CharField(max_length=60)
    subject = models.CharField(max_length=SUBJECT_MAX)
    before: models.JSONField[Any, Any] = models.JSONField(null=True)
    after: models.JSONField[Any, Any] = models.JSONField(null=True)
    reason = models.TextField(blank=True)

    class Meta:
        ordering = ("-id",)

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.verb} {self.subject}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if self.pk is not None:
            raise TypeError("A line of the record is never edited.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise TypeError("A line of the record is never removed.")
