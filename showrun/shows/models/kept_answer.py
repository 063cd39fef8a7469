"""The answer to a request that named a key, kept so that it can be given again."""

from __future__ import annotations

from django.db import models

from showrun.shows.models.person import Person


class KeptAnswer(models.Model):
    """A person's key at an address; without a status it is still being answered."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    path = models.CharField(max_length=300)
    key = models.CharField(max_length=255)
    body_hash = models.CharField(max_length=64, help_text="SHA-256 of what was sent.")
    claim = models.UUIDField(help_text="Whose turn it is to answer.")
    claimed_at = models.DateTimeField(db_index=True)
    status = models.PositiveSmallIntegerField(null=True, blank=True)
    body = models.TextField(blank=True, help_text="JSON; empty where nothing was said.")

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["person", "path", "key"], name="key_once_a_path"),
        )

    def __str__(self) -> str:
        return f"{self.key} at {self.path}"
