"""An outfit: a wagon and its rig, kept over the years by those who bring it."""

from __future__ import annotations

from typing import Any

from django.db import models

from entries.models.rig_facts import RigFacts
from showrun.shows.models import Person, Show


def outfit_photo_name(outfit: Outfit, name: str) -> str:
    """Name the photo by its owner and content; `name` is the content's hash."""
    return f"outfits/{outfit.exhibitor_id}/{name}"


class Outfit(RigFacts):
    """What an exhibitor brings from show to show; each entry keeps its own copy of the facts."""

    exhibitor = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    wagon_name = models.CharField(max_length=80)
    name = models.CharField(max_length=80, blank=True, help_text="Ranch, family or club behind it.")
    history = models.TextField(blank=True)
    frontage_ft = models.PositiveIntegerField(null=True, blank=True)
    depth_ft = models.PositiveIntegerField(null=True, blank=True)
    photo = models.FileField(upload_to=outfit_photo_name, max_length=160, blank=True)
    kept_at = models.DateTimeField(help_text="Last changed.")
    put_away_at = models.DateTimeField(null=True, blank=True, help_text="Offered no more.")

    class Meta:
        ordering = ("wagon_name", "id")
        constraints = (
            models.UniqueConstraint(
                fields=["exhibitor", "wagon_name"], name="outfit_once_an_exhibitor"
            ),
        )

    def __str__(self) -> str:
        return self.wagon_name


class EntryDraft(models.Model):
    """What an exhibitor has typed so far for a show; no entry, and it holds no place."""

    show = models.ForeignKey(Show, on_delete=models.CASCADE, related_name="+")
    exhibitor = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    typed: models.JSONField[Any, Any] = models.JSONField(
        default=dict, help_text="Field names to the values typed."
    )
    saved_at = models.DateTimeField()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["show", "exhibitor"], name="draft_once_an_exhibitor"),
        )

    def __str__(self) -> str:
        return f"draft of {self.exhibitor} for {self.show}"
