"""A show, its classes, and who holds which role in it."""

from __future__ import annotations

from typing import Any
from zoneinfo import ZoneInfo

from django.core.validators import MinValueValidator
from django.db import models

from showrun.shows.models.person import Person
from showrun.shows.rules.access import Role


class Show(models.Model):
    """One weekend on one ground, with a cap on the wagons it takes."""

    slug = models.SlugField(unique=True)
    name = models.CharField(max_length=120)
    ground = models.CharField(max_length=160)
    starts_on = models.DateField()
    ends_on = models.DateField()
    judging_starts_at = models.DateTimeField(help_text="When the first judge may set off.")
    judging_minutes = models.PositiveIntegerField(help_text="How long the window may be.")
    zone = models.CharField(max_length=64, default="America/Denver")
    entry_cap = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    entry_fee_cents = models.PositiveIntegerField(default=0)
    refund_terms = models.TextField(blank=True)
    cautions: models.JSONField[Any, Any] = models.JSONField(default=list)
    policies: models.JSONField[Any, Any] = models.JSONField(default=list)
    gate_x_ft = models.FloatField(default=0)
    gate_y_ft = models.FloatField(default=0)
    walking_ft_per_minute = models.PositiveIntegerField(default=200)
    crew_reset_minutes = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ("-starts_on", "slug")

    def __str__(self) -> str:
        return self.name

    @property
    def tz(self) -> ZoneInfo:
        """The show's own clock."""
        return ZoneInfo(self.zone)


class ShowClass(models.Model):
    """A class exhibitors enter and win."""

    show = models.ForeignKey(Show, on_delete=models.PROTECT, related_name="classes")
    code = models.SlugField()
    name = models.CharField(max_length=120)
    description = models.TextField(blank=True)
    places_awarded = models.PositiveIntegerField(default=3)
    position = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ("position", "code")
        constraints = (
            models.UniqueConstraint(fields=["show", "code"], name="class_code_once_a_show"),
        )

    def __str__(self) -> str:
        return self.name


class RoleHeld(models.Model):
    """A person's role in one show; nobody has a role everywhere."""

    show = models.ForeignKey(Show, on_delete=models.CASCADE, related_name="roles")
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="roles")
    role = models.CharField(max_length=20, choices=[(r.value, r.value) for r in Role])

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["show", "person", "role"], name="role_held_once"),
        )

    def __str__(self) -> str:
        return f"{self.person}: {self.role} of {self.show}"
