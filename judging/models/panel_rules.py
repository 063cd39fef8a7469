"""What the office asks of a panel: rules of the whole show, and seats set by hand."""

from __future__ import annotations

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from entries.models import Entry
from judging.models.judge import Judge
from judging.models.scorecard import Section
from showrun.shows.models import Show


class PanelRules(models.Model):
    """The rules of one show's panel; without a row the defaults count."""

    BALANCES = (("seats", _("seats")), ("minutes", _("minutes of judging")))

    show = models.OneToOneField(Show, on_delete=models.CASCADE, related_name="+")
    novices_beside_seniors = models.BooleanField(
        default=False, help_text="A novice sits only where a senior sits beside."
    )
    balance_by = models.CharField(max_length=10, choices=BALANCES, default="seats")
    max_seats = models.PositiveIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1)],
        help_text="Most seats of a judge who has no limit of their own.",
    )

    def __str__(self) -> str:
        return f"panel rules of {self.show}"


class Pin(models.Model):
    """A seat set by hand: a judge must sit somewhere, or must not."""

    show = models.ForeignKey(Show, on_delete=models.CASCADE, related_name="+")
    judge = models.ForeignKey(Judge, on_delete=models.CASCADE, related_name="+")
    entry = models.ForeignKey(Entry, on_delete=models.CASCADE, related_name="+")
    section = models.ForeignKey(
        Section,
        null=True,
        blank=True,
        on_delete=models.CASCADE,
        related_name="+",
        help_text="None for every section.",
    )
    must = models.BooleanField(help_text="Must sit there, or must not.")
    why = models.CharField(max_length=200)

    class Meta:
        ordering = ("judge__code", "entry__number", "section__position", "id")
        constraints = (
            models.UniqueConstraint(
                fields=["judge", "entry", "section"],
                condition=Q(section__isnull=False),
                name="pin_once_a_section",
            ),
            models.UniqueConstraint(
                fields=["judge", "entry"],
                condition=Q(section__isnull=True),
                name="pin_once_an_entry",
            ),
        )

    def __str__(self) -> str:
        verb = "must sit" if self.must else "must not sit"
        return f"{self.judge} {verb} at {self.entry}, {self.section or 'every section'}"
