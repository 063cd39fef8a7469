"""The show's own terms of entering: dates, money, waiver, papers of animals."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import F, Q

from showrun.shows.models import Show


class EntryTerms(models.Model):
    """What a show asks of those who enter; a show without a row asks nothing beyond the form.

    Each class of papers is asked for only where the show says so: `None` means not asked.
    """

    show = models.OneToOneField(Show, on_delete=models.CASCADE, related_name="+")
    opens_at = models.DateTimeField(null=True, blank=True)
    closes_at = models.DateTimeField(null=True, blank=True)
    promotion_hours = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="To take up an offered place; none: the office promotes."
    )
    deposit_cents = models.PositiveIntegerField(default=0, help_text="Held till after the show.")
    travel_cents = models.PositiveIntegerField(default=0, help_text="Paid to each wagon that came.")
    refund_steps: models.JSONField[Any, Any] = models.JSONField(
        default=list, help_text="Each with `until` (a date) and `share_percent`, in order of dates."
    )
    waiver_text = models.TextField(blank=True)
    waiver_version = models.PositiveIntegerField(default=0, help_text="Raised with each new text.")
    animals_asked = models.BooleanField(default=False)
    eia_max_age_days = models.PositiveIntegerField(null=True, blank=True)
    certificate_max_age_days = models.PositiveIntegerField(null=True, blank=True)
    animal_note = models.TextField(blank=True, help_text="In the show's own words.")
    emergency_asked = models.BooleanField(default=False)
    camp_asked = models.BooleanField(default=False)
    crew_frozen_at = models.DateTimeField(
        null=True, blank=True, help_text="None: when judging starts."
    )
    names_judges = models.BooleanField(default=False, help_text="On feedback sheets.")

    class Meta:
        verbose_name_plural = "entry terms"
        constraints = (
            models.CheckConstraint(
                condition=Q(opens_at__isnull=True)
                | Q(closes_at__isnull=True)
                | Q(opens_at__lt=F("closes_at")),
                name="entries_open_before_they_close",
            ),
        )

    def __str__(self) -> str:
        return f"terms of {self.show}"
