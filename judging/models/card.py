"""A card: one judge's marks on one entry, as they stand after all events."""

from __future__ import annotations

from typing import Any

from django.db import models

from entries.models import Entry
from judging.models.device import Device
from judging.models.event import RoundEvent
from judging.models.judge import Judge
from judging.models.scorecard import Criterion, Section
from judging.rules.cards.scorecard import Mark, MarkState


class CardQuerySet(models.QuerySet["Card"]):
    """Cards of judges."""

    def open_again(self) -> int:
        """Let them be signed anew; return how many there are."""
        return self.update(handed_in_at=None, handed_in_device=None, handed_in_seq=None)


class Card(models.Model):
    """The marks of one judge on one entry; handed in when the judge says so."""

    judge = models.ForeignKey(Judge, on_delete=models.PROTECT, related_name="cards")
    entry = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="+")
    handed_in_at = models.DateTimeField(null=True, blank=True)
    # Touches the same phone made before this one still count when they arrive late.
    handed_in_device = models.ForeignKey(
        Device, null=True, on_delete=models.PROTECT, related_name="+"
    )
    handed_in_seq = models.PositiveBigIntegerField(null=True)
    # The rig as this judge found it at the wagon; None: as it was entered.
    rig: models.JSONField[Any, Any] = models.JSONField(null=True, blank=True)

    objects = CardQuerySet.as_manager()

    class Meta:
        constraints = (models.UniqueConstraint(fields=["judge", "entry"], name="card_once"),)

    def __str__(self) -> str:
        return f"{self.judge}: {self.entry}"


# A row whose mark was taken back: kept, so that an older touch arriving late stays history.
EMPTY = "empty"
_STATES = [*((s.value, s.value) for s in MarkState), (EMPTY, EMPTY)]


class CardMark(models.Model):
    """A criterion's mark as it stands, and what gave it: a phone's event, or the office."""

    card = models.ForeignKey(Card, on_delete=models.CASCADE, related_name="marks")
    criterion = models.ForeignKey(Criterion, on_delete=models.PROTECT, related_name="+")
    state = models.CharField(max_length=16, choices=_STATES)
    value = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    # Given on a row the rig turned out not to have: kept and shown, never counted.
    aside = models.BooleanField(default=False)
    version = models.PositiveIntegerField(default=1)
    device = models.ForeignKey(Device, null=True, on_delete=models.PROTECT, related_name="+")
    seq = models.PositiveBigIntegerField(default=0, help_text="Of the event that gave it.")
    event = models.ForeignKey(RoundEvent, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["card", "criterion"], name="mark_once_a_card"),
            models.CheckConstraint(
                condition=models.Q(state=MarkState.MARKED.value, value__isnull=False)
                | (~models.Q(state=MarkState.MARKED.value) & models.Q(value__isnull=True)),
                name="value_only_when_marked",
            ),
        )

    def __str__(self) -> str:
        return f"{self.criterion}: {self.value if self.value is not None else self.state}"

    def as_value(self) -> Mark | None:
        """Return the mark as the rules know it, None for a row taken back."""
        return None if self.state == EMPTY else Mark(MarkState(self.state), self.value)


class Remark(models.Model):
    """A judge's words on a section, for the exhibitor."""

    card = models.ForeignKey(Card, on_delete=models.CASCADE, related_name="remarks")
    section = models.ForeignKey(Section, on_delete=models.PROTECT, related_name="+")
    text = models.CharField(max_length=300, blank=True)
    device = models.ForeignKey(Device, on_delete=models.PROTECT, related_name="+")
    seq = models.PositiveBigIntegerField()
    event = models.ForeignKey(RoundEvent, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["card", "section"], name="remark_once_a_section"),
        )

    def __str__(self) -> str:
        return self.text
