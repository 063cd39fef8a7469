"""The scorecard as kept: sections, criteria, and how a class counts them."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.db import models

from judging.rules.cards import scorecard as values
from showrun.shows.models import Show, ShowClass

METHODS = (("plain", "Plain total"), ("judge_adjusted", "Judge-adjusted total"))


class Scorecard(models.Model):
    """One version of a card; frozen once a judge has marked on it."""

    show = models.ForeignKey(Show, on_delete=models.PROTECT, related_name="+")
    name = models.CharField(max_length=120)
    version = models.PositiveIntegerField(default=1)
    frozen_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=["show", "name", "version"], name="scorecard_version_once"
            ),
        )

    def __str__(self) -> str:
        return f"{self.name}, version {self.version}"


class Section(models.Model):
    """A part of the card judged together."""

    scorecard = models.ForeignKey(Scorecard, on_delete=models.CASCADE, related_name="sections")
    code = models.SlugField()
    name = models.CharField(max_length=80)
    points = models.DecimalField(max_digits=6, decimal_places=2)
    minutes = models.PositiveIntegerField()
    position = models.PositiveIntegerField(default=0)
    quick_phrases: models.JSONField[Any, Any] = models.JSONField(default=list)

    class Meta:
        ordering = ("position",)
        constraints = (
            models.UniqueConstraint(fields=["scorecard", "code"], name="section_code_once_a_card"),
        )

    def __str__(self) -> str:
        return self.name

    def as_value(self) -> values.Section:
        """Return the section as the rules know it; prefetch `criteria` for many."""
        return values.Section(
            code=self.code,
            name=self.name,
            points=self.points,
            minutes=self.minutes,
            criteria=tuple(row.as_value() for row in self.criteria.all()),
        )


class Criterion(models.Model):
    """One row of the card."""

    DANGER = (
        ("", "none"),
        ("A", "do not move the team"),
        ("B", "mend before moving"),
        ("C", "score only"),
    )

    section = models.ForeignKey(Section, on_delete=models.CASCADE, related_name="criteria")
    code = models.SlugField()
    name = models.CharField(max_length=80)
    guidance = models.TextField(blank=True)
    danger = models.CharField(max_length=1, blank=True, choices=DANGER)
    max_mark = models.DecimalField(max_digits=5, decimal_places=2, default=Decimal(10))
    step = models.DecimalField(max_digits=5, decimal_places=2, default=Decimal(1))
    weight = models.DecimalField(max_digits=5, decimal_places=2, default=Decimal(1))
    applies: models.JSONField[Any, Any] = models.JSONField(default=dict)
    position = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ("section__position", "position")
        verbose_name_plural = "criteria"
        constraints = (
            models.UniqueConstraint(fields=["section", "code"], name="criterion_code_once"),
        )

    def __str__(self) -> str:
        return self.name

    def as_value(self) -> values.Criterion:
        """Return the row as the rules know it."""
        return values.Criterion(
            code=self.code,
            name=self.name,
            max_mark=self.max_mark.normalize(),
            step=self.step.normalize(),
            weight=self.weight,
            applies=self.applies,
        )


class ClassCard(models.Model):
    """How a class is judged, declared before judging."""

    show_class = models.OneToOneField(ShowClass, on_delete=models.PROTECT, related_name="+")
    sections = models.ManyToManyField(Section, related_name="+")
    method = models.CharField(max_length=20, choices=METHODS, default="plain")
    judges_per_section = models.PositiveIntegerField(default=3)
    tie_ladder: models.JSONField[Any, Any] = models.JSONField(
        default=list, help_text="Section codes that part equal totals, in this order."
    )
    not_inspected = models.CharField(
        max_length=10,
        choices=[(p.value, p.value) for p in values.NotInspected],
        default=values.NotInspected.RESCALE.value,
    )

    def __str__(self) -> str:
        return f"{self.show_class}: {self.get_method_display()}"
