"""Camp spots and zones on the ground's plan, in feet."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from showrun.shows.models import Show


class CampSpot(models.Model):
    """Where one wagon camps; its place on the plan gives the walking times."""

    show = models.ForeignKey(Show, on_delete=models.CASCADE, related_name="+")
    number = models.PositiveIntegerField()
    x_ft = models.FloatField()
    y_ft = models.FloatField()
    frontage_ft = models.PositiveIntegerField(default=50)
    depth_ft = models.PositiveIntegerField(default=40)

    class Meta:
        ordering = ("number",)
        constraints = (
            models.UniqueConstraint(fields=["show", "number"], name="camp_spot_number_once"),
        )

    def __str__(self) -> str:
        return f"camp spot {self.number}"


class CampZone(models.Model):
    """Ground nobody camps on: kept free, or for animals. (x, y) is its north-west corner."""

    class Kind(models.TextChoices):
        FIRE_LANE = "fire_lane", "fire lane"
        ANIMALS = "animals", "animal zone"
        WATER = "water", "water"
        PUBLIC = "public", "public way"
        OTHER = "other", "other"

    show = models.ForeignKey(Show, on_delete=models.CASCADE, related_name="+")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    name = models.CharField(max_length=60)
    x_ft = models.FloatField()
    y_ft = models.FloatField()
    width_ft = models.PositiveIntegerField()
    depth_ft = models.PositiveIntegerField()

    class Meta:
        ordering = ("kind", "name", "id")
        constraints = (
            models.UniqueConstraint(fields=["show", "name"], name="camp_zone_name_once"),
            models.CheckConstraint(
                condition=Q(width_ft__gt=0, depth_ft__gt=0), name="camp_zone_has_a_size"
            ),
        )

    def __str__(self) -> str:
        return f"{self.name} ({self.get_kind_display()})"
