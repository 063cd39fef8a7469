"""The scorecard as kept: sections, criteria, and how a class counts them."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.db import models
from django.utils.translation import gettext_lazy as _

from judging.rules.cards import scorecard as values
from judging.rules.cards.policies import GearCredit, Marking, ModernItems, Policies
from showrun.shows.models import Show, ShowClass

METHODS = (
    ("plain", _("Plain total")),
    ("mean", _("Mean of the judges")),
    ("trimmed", _("Trimmed mean")),
    ("judge_adjusted", _("Judge-adjusted total")),
    ("crossed", _("Crossed effects")),
    ("placings", _("Places of the judges")),
)


class Scorecard(models.Model):
    """One version of a card; frozen once a judge has marked on it."""

    show = models.ForeignKey(Show, on_delete=models.PROTECT, related_name="+")
    code = models.SlugField(blank=True, help_text="Of the card file or library card it came from.")
    name = models.CharField(max_length=120)
    version = models.PositiveIntegerField(default=1)
    notice = models.TextField(blank=True, help_text="Shown above the card, wherever it is.")
    in_use = models.BooleanField(default=False, help_text="Judges of the show mark on this one.")
    copied_from = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    made_at = models.DateTimeField(null=True, blank=True)
    frozen_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=["show", "name", "version"], name="scorecard_version_once"
            ),
            models.UniqueConstraint(
                fields=["show"], condition=models.Q(in_use=True), name="one_scorecard_in_use"
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
    form = models.CharField(
        max_length=10,
        choices=[(form.value, _(form.words)) for form in values.Form],
        default=values.Form.POINTS.value,
    )
    all_or_nothing = models.BooleanField(
        default=False, help_text="Pass or fail: one row failed gives the section no points."
    )
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
            form=values.Form(self.form),
            all_or_nothing=self.all_or_nothing,
        )


class Criterion(models.Model):
    """One row of the card."""

    DANGER = (
        ("", _("none")),
        ("A", _("do not move the team")),
        ("B", _("mend before moving")),
        ("C", _("score only")),
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
    one_of = models.SlugField(
        blank=True, help_text="Rows that stand in for each other: on no rig do two of them apply."
    )
    parts: models.JSONField[Any, Any] = models.JSONField(
        default=list, blank=True, help_text="Codes of the handbook's parts this row looks at."
    )
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
            one_of=self.one_of,
            parts=tuple(self.parts),
        )


class ClassCard(models.Model):
    """How a class is judged, declared before judging."""

    show_class = models.OneToOneField(ShowClass, on_delete=models.PROTECT, related_name="+")
    sections = models.ManyToManyField(Section, related_name="+")
    method = models.CharField(max_length=20, choices=METHODS, default="plain")
    judges_per_section = models.PositiveIntegerField(default=3)
    announced_points = models.DecimalField(
        max_digits=8,
        decimal_places=2,
        null=True,
        blank=True,
        help_text="What one judge can give in all, where the show's rules print it.",
    )
    tie_ladder: models.JSONField[Any, Any] = models.JSONField(
        default=list, help_text="Section codes that part equal totals, in this order."
    )
    not_inspected = models.CharField(
        max_length=10,
        choices=[(p.value, p.value) for p in values.NotInspected],
        default=values.NotInspected.RESCALE.value,
    )
    gear_credit = models.CharField(
        max_length=16,
        choices=[(p.value, p.value) for p in GearCredit],
        default=GearCredit.ALIKE.value,
    )
    marking = models.CharField(
        max_length=20,
        choices=[(p.value, p.value) for p in Marking],
        default=Marking.BUILD_FROM_MIDDLE.value,
    )
    modern_items = models.CharField(
        max_length=16,
        choices=[(p.value, p.value) for p in ModernItems],
        default=ModernItems.LOSES.value,
    )
    # Weights share the purse out among the places; what is paid is in whole cents.
    purse_cents = models.PositiveBigIntegerField(default=0)
    purse_weights: models.JSONField[Any, Any] = models.JSONField(
        default=list, help_text="Share of each place, first to last, as strings."
    )
    query_minutes = models.PositiveIntegerField(
        default=60, help_text="How long after release an exhibitor may put a query."
    )
    period_from = models.PositiveIntegerField(null=True, blank=True, help_text="First year.")
    period_to = models.PositiveIntegerField(null=True, blank=True, help_text="Last year.")
    policy_note = models.TextField(blank=True)

    def __str__(self) -> str:
        return f"{self.show_class}: {self.get_method_display()}"

    @property
    def policies(self) -> Policies:
        """What the class declares, as the rules know it."""
        return Policies(
            gear_credit=GearCredit(self.gear_credit),
            marking=Marking(self.marking),
            modern_items=ModernItems(self.modern_items),
            period_from=self.period_from,
            period_to=self.period_to,
            not_inspected=values.NotInspected(self.not_inspected),
            note=self.policy_note,
        )
