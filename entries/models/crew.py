"""The crew of an entry, and every change of its list."""

from __future__ import annotations

from typing import Any, NoReturn

from django.db import models

from entries.models.entry import Entry
from entries.rules.eligibility import CREW_ROLES
from showrun.language import gettext_noop as N_
from showrun.shows.models import Person


class CrewMember(models.Model):
    """One of an entry's crew."""

    entry = models.ForeignKey(Entry, on_delete=models.CASCADE, related_name="crew")
    name = models.CharField(max_length=120)
    role = models.CharField(max_length=20, choices=list(CREW_ROLES.items()))
    under_age = models.BooleanField(default=False, help_text="Never named outside the office.")

    class Meta:
        ordering = ("id",)

    def __str__(self) -> str:
        return f"{self.name} ({self.get_role_display()})"


class CrewChange(models.Model):
    """One change of a crew list; lines are added, never edited."""

    class What(models.TextChoices):
        ADDED = "added", N_("added")
        REMOVED = "removed", N_("taken off")
        CHANGED = "changed", N_("changed")

    REASON_MAX = 200

    entry = models.ForeignKey(Entry, on_delete=models.CASCADE, related_name="+")
    at = models.DateTimeField()
    by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    what = models.CharField(max_length=10, choices=What.choices)
    name = models.CharField(max_length=120)
    role = models.CharField(max_length=20, choices=list(CREW_ROLES.items()))
    before = models.CharField(max_length=160, blank=True, help_text="Name and part till then.")
    after_freeze = models.BooleanField(default=False)
    reason = models.CharField(max_length=REASON_MAX, blank=True)

    class Meta:
        ordering = ("-id",)

    def __str__(self) -> str:
        return f"{self.name} {self.get_what_display()}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if self.pk is not None:
            raise TypeError("A line of the crew's log is never edited.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise TypeError("A line of the crew's log is never removed.")
