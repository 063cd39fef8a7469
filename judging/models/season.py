"""Seasons: standings over the released results of several shows."""

from __future__ import annotations

from typing import Any

from django.db import models

from showrun.shows.models import Person, ShowClass


class Season(models.Model):
    """A points table declared beforehand, and how many shows count."""

    slug = models.SlugField(unique=True)
    name = models.CharField(max_length=120)
    points: models.JSONField[Any, Any] = models.JSONField(
        help_text="Points of each place, first to last, as strings; further places get none."
    )
    best_of = models.PositiveIntegerField(
        null=True, blank=True, help_text="Best so many shows count; empty: all."
    )
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()

    class Meta:
        ordering = ("-made_at",)

    def __str__(self) -> str:
        return self.name


class SeasonClass(models.Model):
    """A class of a show whose released result counts in the season."""

    season = models.ForeignKey(Season, on_delete=models.CASCADE, related_name="classes")
    show_class = models.ForeignKey(ShowClass, on_delete=models.PROTECT, related_name="+")
    added_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    added_at = models.DateTimeField()

    class Meta:
        ordering = ("show_class__show__starts_on", "show_class__position")
        constraints = (
            models.UniqueConstraint(fields=["season", "show_class"], name="counts_once_a_season"),
        )

    def __str__(self) -> str:
        return f"{self.show_class} in {self.season}"
