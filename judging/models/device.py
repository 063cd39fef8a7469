"""Judges' phones: paired once by a code, known after that by a token."""

from __future__ import annotations

from django.db import models

from judging.models.judge import Judge
from showrun.shows.models import Person


class PairingCode(models.Model):
    """A code that pairs one phone with one judge, once and for a short while."""

    judge = models.ForeignKey(Judge, on_delete=models.CASCADE, related_name="+")
    code_hash = models.CharField(max_length=64, unique=True)
    made_by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"code for {self.judge}"


class Device(models.Model):
    """A paired phone. Only a hash of its token is kept."""

    judge = models.ForeignKey(Judge, on_delete=models.PROTECT, related_name="devices")
    token_hash = models.CharField(max_length=64, unique=True)
    label = models.CharField(max_length=80, blank=True)
    paired_at = models.DateTimeField()
    last_seen_at = models.DateTimeField(null=True, blank=True)
    unsent = models.PositiveIntegerField(default=0, help_text="As the phone last told.")
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("-paired_at",)

    def __str__(self) -> str:
        return self.label or f"phone {self.pk}"
