"""A passkey: a way to sign in without waiting for an e-mail."""

from __future__ import annotations

from typing import Any

from django.db import models

from showrun.shows.models.person import Person


class Passkey(models.Model):
    """The public half of a person's passkey; the other half never leaves their device."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    credential_id = models.CharField(max_length=1400, help_text="Base64url, without padding.")
    credential_hash = models.CharField(max_length=64, unique=True, help_text="SHA-256 of the id.")
    public_key = models.TextField(help_text="COSE key, base64url.")
    sign_count = models.PositiveBigIntegerField(default=0)
    transports: models.JSONField[Any, Any] = models.JSONField(default=list)
    backed_up = models.BooleanField(default=False)
    name = models.CharField(max_length=60, help_text="The person's own word for the device.")
    made_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("id",)

    def __str__(self) -> str:
        return f"{self.name} of {self.person}"
