"""Links by which a calendar program reads announced times without signing in."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from entries.models import Entry
from judging.models.judge import Judge
from showrun.shows.models import Person, Show


class CalendarLinkQuerySet(models.QuerySet["CalendarLink"]):
    """Links by whether they still work."""

    def live(self) -> CalendarLinkQuerySet:
        return self.filter(revoked_at__isnull=True)


class CalendarLink(models.Model):
    """One private link; whoever has it reads the times. Only a hash of its token is kept."""

    class Kind(models.TextChoices):
        """Whose times it gives."""

        OFFICE = "office", _("the whole show")
        JUDGE = "judge", _("a judge's visits")
        ENTRY = "entry", _("a wagon's visits")

    show = models.ForeignKey(Show, on_delete=models.CASCADE, related_name="+")
    kind = models.CharField(max_length=8, choices=Kind.choices)
    judge = models.ForeignKey(
        Judge, null=True, blank=True, on_delete=models.CASCADE, related_name="+"
    )
    entry = models.ForeignKey(
        Entry, null=True, blank=True, on_delete=models.CASCADE, related_name="+"
    )
    token_hash = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_read_at = models.DateTimeField(null=True, blank=True)

    objects = CalendarLinkQuerySet.as_manager()

    class Meta:
        ordering = ("-made_at", "-id")
        constraints = (
            models.CheckConstraint(
                condition=Q(kind="office", judge__isnull=True, entry__isnull=True)
                | Q(kind="judge", judge__isnull=False, entry__isnull=True)
                | Q(kind="entry", judge__isnull=True, entry__isnull=False),
                name="calendar_link_of_its_kind",
            ),
            models.UniqueConstraint(
                fields=["show"],
                condition=Q(kind="office", revoked_at__isnull=True),
                name="one_live_office_calendar",
            ),
            models.UniqueConstraint(
                fields=["judge"],
                condition=Q(kind="judge", revoked_at__isnull=True),
                name="one_live_judge_calendar",
            ),
            models.UniqueConstraint(
                fields=["entry"],
                condition=Q(kind="entry", revoked_at__isnull=True),
                name="one_live_entry_calendar",
            ),
        )

    def __str__(self) -> str:
        return f"calendar link of {self.judge or self.entry or self.show}"
