"""Queries: an exhibitor asks about a released result, and the office answers on record."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

from entries.models import Entry
from judging.models.result import Result
from showrun.shows.models import Person


class ExhibitorQuery(models.Model):
    """Put within the class's query window; answered once, kept for good."""

    class State(models.TextChoices):
        OPEN = "open", _("waits for the office")
        STANDS = "stands", _("answered: the result stands")
        CORRECTED = "corrected", _("answered: the result is corrected")
        WITHDRAWN = "withdrawn", _("withdrawn by the exhibitor")

    result = models.ForeignKey(Result, on_delete=models.PROTECT, related_name="queries")
    entry = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="+")
    section = models.CharField(max_length=80, blank=True, help_text="Code of the section, or none.")
    text = models.CharField(max_length=600)
    asked_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField()
    state = models.CharField(max_length=10, choices=State.choices, default=State.OPEN)
    answer = models.CharField(max_length=600, blank=True)
    answered_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    answered_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("asked_at", "id")
        verbose_name_plural = "exhibitor queries"

    def __str__(self) -> str:
        return f"query of {self.entry} on {self.result}"
