"""Animals of an entry, with the dates on their papers: never a statement of health."""

from __future__ import annotations

from django.db import models

from entries.models.entry import Entry
from showrun.language import gettext_noop as N_
from showrun.shows.models import Person


class Animal(models.Model):
    """One animal and the dates its papers carry, as the exhibitor typed them."""

    class Kind(models.TextChoices):
        HORSE = "horse", N_("horse")
        MULE = "mule", N_("mule")
        OTHER = "other", N_("other")

    entry = models.ForeignKey(Entry, on_delete=models.CASCADE, related_name="animals")
    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=10, choices=Kind.choices)
    description = models.CharField(max_length=120, blank=True, help_text="Colour, marks, age.")
    eia_tested_on = models.DateField(null=True, blank=True)
    certificate_on = models.DateField(null=True, blank=True)
    papers_seen_at = models.DateTimeField(null=True, blank=True)
    papers_seen_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ("id",)

    def __str__(self) -> str:
        return f"{self.name} ({self.get_kind_display()})"
