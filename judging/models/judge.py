"""Judges of a show and what bars them from an entry."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

from entries.models import Entry
from judging.models.scorecard import Section
from showrun.shows.models import Person, Show


class Judge(models.Model):
    """A person engaged to judge some sections of a show."""

    show = models.ForeignKey(Show, on_delete=models.PROTECT, related_name="+")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    code = models.SlugField(help_text="Short name used on lists, such as J2.")
    seniority = models.CharField(
        max_length=10, choices=[("senior", _("senior")), ("novice", _("novice"))], default="senior"
    )
    sections = models.ManyToManyField(Section, related_name="+")
    max_seats = models.PositiveIntegerField(
        null=True, blank=True, help_text="Most seats this judge takes; none for the panel's rule."
    )
    left_at = models.DateTimeField(null=True, blank=True, help_text="Judges no more here.")

    class Meta:
        ordering = ("code",)
        constraints = (
            models.UniqueConstraint(fields=["show", "code"], name="judge_code_once_a_show"),
            models.UniqueConstraint(fields=["show", "person"], name="judge_once_a_show"),
        )

    def __str__(self) -> str:
        return f"{self.person.name} ({self.code})"


class Conflict(models.Model):
    """Why a judge must not see an entry. Common practice, no source, as to the kinds."""

    KINDS = (
        ("kin", _("family")),
        ("crew", _("has been crew")),
        ("sold_gear", _("sold or made gear")),
        ("same_stable", _("same stable")),
        ("guest", _("stayed with")),
        ("other", _("other")),
    )

    judge = models.ForeignKey(Judge, on_delete=models.CASCADE, related_name="conflicts")
    entry = models.ForeignKey(Entry, on_delete=models.CASCADE, related_name="+")
    kind = models.CharField(max_length=12, choices=KINDS)
    reason = models.CharField(max_length=200, blank=True)
    declared_at = models.DateTimeField()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["judge", "entry"], name="conflict_declared_once"),
        )

    def __str__(self) -> str:
        return f"{self.judge} and {self.entry}: {self.get_kind_display()}"
