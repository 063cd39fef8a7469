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
    scribe = models.CharField(max_length=80, blank=True, help_text="Who will key for the judge.")
    takes_place = models.BooleanField(
        default=False,
        db_default=False,
        help_text="The phones the judge had when it was made are shut out once it is used.",
    )

    def __str__(self) -> str:
        return f"code for {self.judge}"


# No hash of a token looks like this, so nobody can sign in as a judge's paper.
PAPER_TOKEN = "paper of judge "  # noqa: S105


class DeviceQuerySet(models.QuerySet["Device"]):
    """What speaks for judges: their phones, and their cards on paper."""

    def phones(self) -> DeviceQuerySet:
        """Phones alone."""
        return self.exclude(token_hash__startswith=PAPER_TOKEN)


class Device(models.Model):
    """A paired phone. Only a hash of its token is kept.

    A judge's paper cards count as one more device, which has no token.
    """

    judge = models.ForeignKey(Judge, on_delete=models.PROTECT, related_name="devices")
    token_hash = models.CharField(max_length=64, unique=True)
    label = models.CharField(max_length=80, blank=True)
    paired_at = models.DateTimeField()
    last_seen_at = models.DateTimeField(null=True, blank=True)
    unsent = models.PositiveIntegerField(default=0, help_text="As the phone last told.")
    battery_percent = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="As the phone last told; many phones do not."
    )
    scribe = models.CharField(max_length=80, blank=True, help_text="Who keys for the judge.")
    revoked_at = models.DateTimeField(null=True, blank=True)

    objects = DeviceQuerySet.as_manager()

    class Meta:
        ordering = ("-paired_at",)

    def __str__(self) -> str:
        return self.label or f"phone {self.pk}"

    @property
    def is_shut_out(self) -> bool:
        """Whether nothing it sends takes effect: its judge may be shut out, or it alone."""
        return self.revoked_at is not None or not self.judge.person.is_active

    @property
    def is_paper(self) -> bool:
        """Whether it stands for the judge's cards on paper."""
        return self.token_hash.startswith(PAPER_TOKEN)
