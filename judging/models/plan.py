"""How the judging day is planned: its rules, what stands still when, and plans in the making."""

from __future__ import annotations

from typing import Any

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from entries.models import Entry
from judging.models.judge import Judge
from showrun.shows.models import Person, Show


class DayRules(models.Model):
    """What the office sets for the plan of one show; without a row the defaults count."""

    STYLES = (("rotating", _("sections rotate")), ("walking", _("the panel walks together")))

    show = models.OneToOneField(Show, on_delete=models.CASCADE, related_name="+")
    style = models.CharField(max_length=10, choices=STYLES, default="rotating")
    talk_minutes = models.PositiveIntegerField(
        default=0, help_text="Talk with the crew, added to every visit."
    )
    settling_minutes = models.PositiveIntegerField(
        default=0, help_text="Setting down and reading the card, added to every visit."
    )
    break_minutes = models.PositiveIntegerField(
        default=0, help_text="A rest for each judge; 0 for none."
    )
    break_from = models.TimeField(null=True, blank=True)
    break_until = models.TimeField(null=True, blank=True)
    fair_ends = models.BooleanField(
        default=False, help_text="No wagon is first, or last, for more judges than must be."
    )
    visit_spread_percent = models.PositiveIntegerField(
        default=25,
        validators=[MaxValueValidator(200)],
        help_text="Spread of a visit's length: its coefficient of variation.",
    )
    pace_spread_percent = models.PositiveIntegerField(
        default=10,
        validators=[MaxValueValidator(100)],
        help_text="Spread of the whole day's pace, common to all visits.",
    )
    grace_minutes = models.PositiveIntegerField(
        default=60,
        help_text="A touch made longer than this after the judging window is kept for the office.",
    )
    latitude = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(-90), MaxValueValidator(90)]
    )
    longitude = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(-180), MaxValueValidator(180)]
    )

    def __str__(self) -> str:
        return f"day rules of {self.show}"


class Pause(models.Model):
    """A time when somebody cannot take part: a judge, a crew, or everybody."""

    show = models.ForeignKey(Show, on_delete=models.CASCADE, related_name="+")
    judge = models.ForeignKey(
        Judge, null=True, blank=True, on_delete=models.CASCADE, related_name="+"
    )
    entry = models.ForeignKey(
        Entry, null=True, blank=True, on_delete=models.CASCADE, related_name="+"
    )
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    why = models.CharField(max_length=120, help_text="Such as: cooks' meeting, turn-in of beans.")

    class Meta:
        ordering = ("starts_at", "id")
        constraints = (
            models.CheckConstraint(
                condition=Q(ends_at__gt=F("starts_at")), name="pause_ends_after_it_starts"
            ),
            models.CheckConstraint(
                condition=Q(judge__isnull=True) | Q(entry__isnull=True),
                name="pause_of_a_judge_or_a_crew",
            ),
        )

    def __str__(self) -> str:
        return f"{self.why}: {self.judge or self.entry or 'everybody'}"


class PlanJob(models.Model):
    """A plan a worker looks for. The row is the queue; the announced plan is not touched by it."""

    class Kind(models.TextChoices):
        """What is looked for."""

        DRAW = "draw", _("a shorter rotation")
        REPLAN = "replan", _("announced times changed as little as can be")

    class State(models.TextChoices):
        """Where it stands."""

        WANTED = "wanted", _("waiting for a worker")
        RUNNING = "running", _("being looked for")
        DONE = "done", _("ready to be looked at")
        STOPPED = "stopped", _("stopped by the office")
        FAILED = "failed", _("failed")
        USED = "used", _("taken over")
        STALE = "stale", _("overtaken by a change")

    UNFINISHED = (State.WANTED, State.RUNNING)
    READY = (State.DONE, State.STOPPED)

    show = models.ForeignKey(Show, on_delete=models.CASCADE, related_name="+")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    state = models.CharField(max_length=10, choices=State.choices, default=State.WANTED)
    asked_by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField()
    seed = models.PositiveIntegerField(default=1)
    limit_s = models.PositiveIntegerField(default=30, help_text="How long a worker may look.")
    case: models.JSONField[Any, Any] = models.JSONField(
        default=dict, help_text="What the plan is made from, and its fingerprint."
    )
    stop_wanted = models.BooleanField(default=False)
    heard_at = models.DateTimeField(null=True, blank=True, help_text="The worker's last word.")
    finished_at = models.DateTimeField(null=True, blank=True)
    progress: models.JSONField[Any, Any] = models.JSONField(
        default=list, help_text="Plans found so far: seconds, minutes, bound."
    )
    result: models.JSONField[Any, Any] = models.JSONField(
        default=dict, help_text="Visits with their times, and what is known of them."
    )
    said = models.CharField(max_length=300, blank=True, help_text="What came of it, in words.")

    class Meta:
        ordering = ("-asked_at", "-id")

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.get_state_display()}"
