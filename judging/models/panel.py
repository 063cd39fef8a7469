"""The panel: which judge looks at which section of which entry."""

from django.db import models

from entries.models import Entry
from judging.models.judge import Judge
from judging.models.scorecard import Section


class Seat(models.Model):
    """One judge's place at one section of one entry."""

    judge = models.ForeignKey(Judge, on_delete=models.PROTECT, related_name="seats")
    entry = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="+")
    section = models.ForeignKey(Section, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ("entry__number", "section__position", "judge__code")
        constraints = (
            models.UniqueConstraint(fields=["judge", "entry", "section"], name="seat_once"),
        )

    def __str__(self) -> str:
        return f"{self.judge} at {self.entry}: {self.section}"
