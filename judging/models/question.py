"""Questions: a check found something odd, and a judge says what is right."""

from __future__ import annotations

from django.db import models

from entries.models import Entry
from judging.models.judge import Judge
from judging.models.scorecard import Criterion
from showrun.shows.models import Person


class Question(models.Model):
    """Put to a judge about one mark; answered, never dropped."""

    class State(models.TextChoices):
        OPEN = "open", "waits for the judge"
        CONFIRMED = "confirmed", "mark confirmed"
        CORRECTED = "corrected", "mark corrected"

    judge = models.ForeignKey(Judge, on_delete=models.PROTECT, related_name="questions")
    entry = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="+")
    criterion = models.ForeignKey(Criterion, on_delete=models.PROTECT, related_name="+")
    value = models.DecimalField(max_digits=5, decimal_places=2, help_text="The mark asked about.")
    expected = models.DecimalField(max_digits=5, decimal_places=1)
    statistic = models.FloatField(help_text="Studentized residual.")
    threshold = models.FloatField()
    alpha = models.FloatField(help_text="Chance of any false question in a clean show.")
    asked_at = models.DateTimeField()
    state = models.CharField(max_length=10, choices=State.choices, default=State.OPEN)
    answer = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    reason = models.CharField(max_length=300, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ("state", "id")
        constraints = (
            models.UniqueConstraint(
                fields=["judge", "entry", "criterion", "value"], name="asked_once_about_a_mark"
            ),
        )

    def __str__(self) -> str:
        return f"{self.judge}, {self.entry}, {self.criterion}: {self.value}?"
