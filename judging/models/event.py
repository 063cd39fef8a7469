"""What phones sent: every event once, as it came, with what became of it."""

from __future__ import annotations

from typing import Any

from django.db import models

from judging.models.device import Device
from judging.rules.round.events import Kind
from showrun.shows.models import Person, Show


class RoundEvent(models.Model):
    """One touch on one phone. Added, never edited, save for what the office did about it."""

    id = models.UUIDField(primary_key=True, help_text="Made by the phone.")
    show = models.ForeignKey(Show, on_delete=models.PROTECT, related_name="+")
    device = models.ForeignKey(Device, on_delete=models.PROTECT, related_name="events")
    seq = models.PositiveBigIntegerField(help_text="Counts the touches of this phone.")
    kind = models.CharField(max_length=12, choices=[(k.value, k.value) for k in Kind])
    body: models.JSONField[Any, Any] = models.JSONField(help_text="As it was sent.")
    body_hash = models.CharField(max_length=64)
    phone_time = models.CharField(max_length=40, blank=True, help_text="What the phone claims.")
    keyed_by = models.CharField(max_length=80, blank=True, help_text="Empty: the judge.")
    received_at = models.DateTimeField()
    happened_at = models.DateTimeField(
        null=True, help_text="The phone's claim, set right by its clock; never after received."
    )
    applied = models.BooleanField(help_text="False: kept for the office, with the reason.")
    reason_code = models.CharField(max_length=40, blank=True)
    reason = models.CharField(max_length=300, blank=True)
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    settled_note = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ("received_at", "seq")
        indexes = (
            models.Index(fields=["device", "seq"], name="event_by_device_seq"),
            models.Index(
                fields=["show"],
                condition=models.Q(applied=False, settled_at__isnull=True),
                name="held_events",
            ),
        )

    def __str__(self) -> str:
        return f"{self.kind} {self.id}"
