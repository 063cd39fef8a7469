"""Safety concerns: apart from the score, and at the office at once."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

from entries.models import Entry
from judging.models.event import RoundEvent
from judging.models.judge import Judge
from judging.models.scorecard import Criterion
from judging.rules.round.events import Degree
from showrun.shows.models import Person


class SafetyConcern(models.Model):
    """Raised by a judge; it never changes points by itself."""

    judge = models.ForeignKey(Judge, on_delete=models.PROTECT, related_name="+")
    entry = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="+")
    criterion = models.ForeignKey(Criterion, null=True, on_delete=models.PROTECT, related_name="+")
    degree = models.CharField(max_length=8, choices=[(d.value, _(d.words)) for d in Degree])
    text = models.CharField(max_length=300, blank=True)
    raised_at = models.DateTimeField()
    event = models.OneToOneField(RoundEvent, on_delete=models.PROTECT, related_name="+")
    seen_at = models.DateTimeField(null=True, blank=True)
    seen_by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ("-raised_at",)

    def __str__(self) -> str:
        return f"{self.get_degree_display()}: {self.entry}"
