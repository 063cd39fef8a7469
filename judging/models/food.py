"""Food judged blind: rounds of one dish, who tastes what at which place, temperatures."""

from __future__ import annotations

from typing import Any, NoReturn

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q

from entries.models import Entry
from judging.models.judge import Judge
from judging.rules.food.temperatures import EDITION
from judging.rules.food.turn_in import WINDOW_MINUTES, LateRule, Standing, TurnInRule
from showrun.shows.models import Person, Show, ShowClass


class FoodRound(models.Model):
    """One dish of one class, turned in at one time and tasted at the judges' tables.

    `seed` draws codes and tables, so it is as close as the key until that is opened.
    """

    show = models.ForeignKey(Show, on_delete=models.CASCADE, related_name="+")
    show_class = models.ForeignKey(ShowClass, on_delete=models.PROTECT, related_name="+")
    dish = models.CharField(max_length=60, help_text="Such as: beans.")
    posted_at = models.DateTimeField(help_text="When the dish is to be on the turn-in table.")
    window_minutes = models.PositiveIntegerField(
        default=WINDOW_MINUTES, help_text="Before and after the posted time."
    )
    grace_minutes = models.PositiveIntegerField(default=0)
    late = models.CharField(
        max_length=10, choices=[(r.value, r.value) for r in LateRule], default=LateRule.REFUSED
    )
    palate_limit = models.PositiveIntegerField(
        validators=[MinValueValidator(1)], help_text="Dishes each judge tastes."
    )
    judges = models.ManyToManyField(Judge, related_name="+")
    seed = models.BigIntegerField(null=True, blank=True)
    drawn_at = models.DateTimeField(null=True, blank=True)
    marks_closed_at = models.DateTimeField(null=True, blank=True)
    revealed_at = models.DateTimeField(null=True, blank=True)
    revealed_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ("posted_at", "id")
        constraints = (
            models.UniqueConstraint(fields=["show_class", "dish"], name="food_dish_once_a_class"),
            models.CheckConstraint(
                condition=Q(revealed_at__isnull=True) | Q(drawn_at__isnull=False),
                name="food_key_opened_after_the_draw",
            ),
        )

    def __str__(self) -> str:
        return f"{self.dish} of {self.show_class}"

    @property
    def rule(self) -> TurnInRule:
        """What the committee declared about turning in."""
        return TurnInRule(self.window_minutes, self.grace_minutes, LateRule(self.late))


class Dish(models.Model):
    """What one wagon turns in; `code` stands for it until the key is opened."""

    round = models.ForeignKey(FoodRound, on_delete=models.CASCADE, related_name="dishes")
    entry = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="+")
    code = models.CharField(max_length=3)
    standing = models.CharField(
        max_length=10, blank=True, choices=[(s.value, s.value) for s in Standing]
    )
    came_at = models.DateTimeField(null=True, blank=True)
    late_s = models.PositiveIntegerField(null=True, blank=True)
    taken_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ("code",)
        verbose_name_plural = "dishes"
        constraints = (
            models.UniqueConstraint(fields=["round", "entry"], name="food_wagon_once_a_round"),
            models.UniqueConstraint(fields=["round", "code"], name="food_code_once_a_round"),
        )

    def __str__(self) -> str:
        return self.code

    @property
    def taken(self) -> bool:
        """Whether it is on the table and will be tasted."""
        return self.came_at is not None and self.standing != Standing.REFUSED


class TablePlace(models.Model):
    """A judge tastes a dish as the first, second or later of theirs."""

    round = models.ForeignKey(FoodRound, on_delete=models.CASCADE, related_name="places")
    judge = models.ForeignKey(Judge, on_delete=models.PROTECT, related_name="+")
    dish = models.ForeignKey(Dish, on_delete=models.CASCADE, related_name="+")
    position = models.PositiveIntegerField(help_text="From 1.")

    class Meta:
        ordering = ("judge__code", "position")
        constraints = (
            models.UniqueConstraint(
                fields=["round", "judge", "position"], name="food_one_dish_at_a_time"
            ),
            models.UniqueConstraint(fields=["judge", "dish"], name="food_dish_tasted_once"),
        )

    def __str__(self) -> str:
        return f"{self.judge.code}, {self.position}: {self.dish}"


class FoodFigures(models.Model):
    """The temperatures that hold at a show; without a row the defaults count."""

    show = models.OneToOneField(Show, on_delete=models.CASCADE, related_name="+")
    edition = models.CharField(max_length=120, default=EDITION)
    authority = models.CharField(
        max_length=120, blank=True, help_text="The local authority, whose rules come first."
    )
    changed: models.JSONField[Any, Any] = models.JSONField(
        default=dict, help_text="Figures other than the defaults: short name to °F, as text."
    )

    def __str__(self) -> str:
        return f"food figures of {self.show}"


class TemperatureReading(models.Model):
    """One line of the temperature log. Lines are added, never edited; a correction is a line."""

    show = models.ForeignKey(Show, on_delete=models.PROTECT, related_name="+")
    entry = models.ForeignKey(
        Entry, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    food = models.CharField(max_length=80, help_text="Such as: beans, middle of the pot.")
    figure = models.CharField(max_length=20)
    limit_f = models.DecimalField(max_digits=5, decimal_places=1)
    reading_f = models.DecimalField(max_digits=5, decimal_places=1)
    act_now = models.BooleanField()
    said = models.CharField(max_length=200)
    edition = models.CharField(max_length=120)
    read_at = models.DateTimeField()
    read_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    corrects = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="corrected_by"
    )
    reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ("-id",)

    def __str__(self) -> str:
        return f"{self.food}: {self.reading_f} °F"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if self.pk is not None:
            raise TypeError("A line of the temperature log is never edited.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise TypeError("A line of the temperature log is never removed.")
