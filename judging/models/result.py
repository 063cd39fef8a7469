"""Results of a class by version: computed, signed by two hands, released."""

from __future__ import annotations

from typing import Any

from django.db import models

from entries.models import Entry
from showrun.shows.models import Person, ShowClass


class ResultQuerySet(models.QuerySet["Result"]):
    """The one gate of the embargo."""

    def released(self) -> ResultQuerySet:
        """Results anybody may see: released, and not replaced by a later release."""
        return self.filter(released_at__isnull=False, replaced_at__isnull=True)


class Result(models.Model):
    """One version of a class's result, with all it was computed from."""

    show_class = models.ForeignKey(ShowClass, on_delete=models.PROTECT, related_name="+")
    version = models.PositiveIntegerField()
    method = models.CharField(max_length=20)
    rule_version = models.CharField(max_length=20)
    inputs_hash = models.CharField(max_length=64)
    computed_at = models.DateTimeField()
    computed_by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    possible_points = models.DecimalField(max_digits=8, decimal_places=2)
    judge_effects: models.JSONField[Any, Any] = models.JSONField(default=dict)
    refusals: models.JSONField[Any, Any] = models.JSONField(default=dict)
    released_at = models.DateTimeField(null=True, blank=True)
    released_by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    # An embargo: the hour at which a signed result goes out by itself.
    release_due_at = models.DateTimeField(null=True, blank=True)
    release_due_by = models.ForeignKey(
        Person, null=True, on_delete=models.PROTECT, related_name="+"
    )
    replaced_at = models.DateTimeField(null=True, blank=True)
    reason = models.CharField(max_length=300, blank=True, help_text="Of a correction.")
    result_hash = models.CharField(
        max_length=64, blank=True, help_text="Over inputs, method, rule version and placings."
    )
    # What by every method the office sees beside the declared one, and how sure the places are.
    uncertainty: models.JSONField[Any, Any] = models.JSONField(default=dict)
    # Cards missing, what each could do to the places, and who accepted that in writing.
    gaps: models.JSONField[Any, Any] = models.JSONField(default=list)
    gaps_accepted_by = models.ForeignKey(
        Person, null=True, on_delete=models.PROTECT, related_name="+"
    )
    gaps_accepted_at = models.DateTimeField(null=True, blank=True)
    gaps_reason = models.CharField(max_length=300, blank=True)

    objects = ResultQuerySet.as_manager()

    class Meta:
        ordering = ("show_class__position", "-version")
        constraints = (
            models.UniqueConstraint(fields=["show_class", "version"], name="result_version_once"),
        )

    def __str__(self) -> str:
        return f"{self.show_class}, version {self.version}"


class Placing(models.Model):
    """One entry's line in a result."""

    result = models.ForeignKey(Result, on_delete=models.CASCADE, related_name="placings")
    entry = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="+")
    place = models.PositiveIntegerField()
    total = models.DecimalField(max_digits=8, decimal_places=2)
    plain_total = models.DecimalField(max_digits=8, decimal_places=2, null=True)
    adjusted_total = models.DecimalField(max_digits=8, decimal_places=2, null=True)
    plain_place = models.PositiveIntegerField(null=True)
    adjusted_place = models.PositiveIntegerField(null=True)
    decided_by = models.CharField(max_length=60, blank=True, help_text="Rung that parted a tie.")
    by_section: models.JSONField[Any, Any] = models.JSONField(help_text="Points, as strings.")
    by_method: models.JSONField[Any, Any] = models.JSONField(
        default=dict, help_text="Total, as a string, and place by each method that can be used."
    )
    rank_low = models.PositiveIntegerField(null=True, help_text="Best place these marks allow.")
    rank_high = models.PositiveIntegerField(null=True, help_text="Worst place these marks allow.")
    best_place = models.PositiveIntegerField(null=True, help_text="With every gap in its favour.")
    worst_place = models.PositiveIntegerField(null=True, help_text="With every gap against it.")
    purse_cents = models.PositiveBigIntegerField(default=0)

    class Meta:
        ordering = ("place", "entry__number")
        constraints = (
            models.UniqueConstraint(fields=["result", "entry"], name="placed_once_a_result"),
        )

    def __str__(self) -> str:
        return f"{self.place}. {self.entry}"


class Signature(models.Model):
    """A hand under a result; two different ones are needed."""

    result = models.ForeignKey(Result, on_delete=models.CASCADE, related_name="signatures")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    signed_at = models.DateTimeField()

    class Meta:
        ordering = ("signed_at",)
        constraints = (
            models.UniqueConstraint(fields=["result", "person"], name="signed_once_a_person"),
        )

    def __str__(self) -> str:
        return f"{self.person} under {self.result}"
