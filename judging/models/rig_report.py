"""A rig found other than it was entered: seen by one judge, settled by the office."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.utils.translation import gettext_lazy as _

from entries.models import Entry
from judging.models.device import Device
from judging.models.event import RoundEvent
from judging.models.judge import Judge
from showrun.shows.models import Person


class RigReport(models.Model):
    """What a judge says the rig is. It stands on that judge's card until the office settles it."""

    class State(models.TextChoices):
        OPEN = "open", _("waits for the office")
        ADOPTED = "adopted", _("the entry's rig was changed")
        DECLINED = "declined", _("the rig stays as entered")
        REPLACED = "replaced", _("the judge reported again")

    judge = models.ForeignKey(Judge, on_delete=models.PROTECT, related_name="+")
    entry = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="+")
    device = models.ForeignKey(Device, on_delete=models.PROTECT, related_name="+")
    seq = models.PositiveBigIntegerField()
    event = models.OneToOneField(RoundEvent, on_delete=models.PROTECT, related_name="+")
    facts: models.JSONField[Any, Any] = models.JSONField(help_text="As the judge found it.")
    entered: models.JSONField[Any, Any] = models.JSONField(help_text="As it was entered then.")
    text = models.CharField(max_length=300, blank=True)
    reported_at = models.DateTimeField()
    state = models.CharField(max_length=10, choices=State.choices, default=State.OPEN)
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    settled_note = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ("-reported_at", "-id")
        indexes = (
            models.Index(
                fields=["entry"], condition=models.Q(state="open"), name="open_rig_reports"
            ),
        )

    def __str__(self) -> str:
        return f"{self.entry}, {self.judge}: {self.get_state_display()}"
