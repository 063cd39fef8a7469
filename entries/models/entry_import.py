"""A list of entries read from a file, looked at before it is taken."""

from __future__ import annotations

from typing import Any

from django.db import models

from showrun.shows.models import Person, Show


class EntryImport(models.Model):
    """What a file said, row by row; nothing of it is in the show before it is taken whole."""

    class State(models.TextChoices):
        READ = "read", "read, not taken yet"
        TAKEN = "taken", "taken"
        LEFT = "left", "left"

    show = models.ForeignKey(Show, on_delete=models.CASCADE, related_name="+")
    file_name = models.CharField(max_length=160)
    sha256 = models.CharField(max_length=64)
    rows: models.JSONField[Any, Any] = models.JSONField(
        default=list, help_text="Each row's values by column, with its line in the file."
    )
    state = models.CharField(max_length=10, choices=State.choices, default=State.READ)
    read_at = models.DateTimeField()
    read_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    settled_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("-id",)

    def __str__(self) -> str:
        return f"{self.file_name} ({self.get_state_display()})"
