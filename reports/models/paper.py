"""A paper: the row is the queue entry, the state of the work and the finished file."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Coalesce

from entries.models import Entry
from judging.models import Result
from reports.rules.code import printed
from showrun.shows.models import Person, Show, ShowClass


def file_name(paper: Paper, _: str) -> str:
    """Name the file by its content, so that drawing it again writes the same file."""
    return f"papers/{paper.show_id}/{paper.kind}-{paper.pk}-{paper.content_hash[:16]}.pdf"


class PaperQuerySet(models.QuerySet["Paper"]):
    """Papers by what may be done with them."""

    def current(self) -> PaperQuerySet:
        """Papers of results that are released and not replaced."""
        return self.filter(result__released_at__isnull=False, result__replaced_at__isnull=True)

    def to_claim(self, at: datetime) -> PaperQuerySet:
        """Papers nobody is drawing: wanted, or left behind by a worker that vanished."""
        return self.filter(
            Q(state=Paper.State.WANTED) | Q(state=Paper.State.DRAWING, claim_expires_at__lte=at)
        )

    def to_queue(self, at: datetime, patience: timedelta) -> PaperQuerySet:
        """Papers to claim for which the queue has not been asked lately.

        A claim that ran out since the queue was last asked is reason enough to ask again.
        """
        asked_at = Coalesce("queued_at", "wanted_at")
        left_behind = Q(state=Paper.State.DRAWING, claim_expires_at__gt=F("asked_at"))
        waiting = self.to_claim(at).alias(asked_at=asked_at)
        return waiting.filter(left_behind | Q(asked_at__lte=at - patience))

    def unfinished(self) -> PaperQuerySet:
        return self.filter(state__in=[Paper.State.WANTED, Paper.State.DRAWING])


class Paper(models.Model):
    """One award or feedback sheet of one entry in one version of a class's result."""

    class Kind(models.TextChoices):
        AWARD = "award", "award sheet"
        FEEDBACK = "feedback", "feedback sheet"

    class State(models.TextChoices):
        WANTED = "wanted", "waits for a worker"
        DRAWING = "drawing", "being drawn"
        DONE = "done", "ready"
        FAILED = "failed", "could not be drawn"
        CANCELLED = "cancelled", "cancelled"

    show = models.ForeignKey(Show, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=12, choices=Kind.choices)
    show_class = models.ForeignKey(ShowClass, on_delete=models.PROTECT, related_name="+")
    entry = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="+")
    result = models.ForeignKey(Result, on_delete=models.PROTECT, related_name="+")
    version = models.PositiveIntegerField(help_text="Of the result.")
    state = models.CharField(max_length=10, choices=State.choices, default=State.WANTED)
    code = models.CharField(max_length=16, unique=True, help_text="Printed; checks the paper.")
    content_hash = models.CharField(max_length=64, blank=True, help_text="SHA-256 of the file.")
    file = models.FileField(upload_to=file_name, max_length=160, blank=True)
    pages = models.PositiveIntegerField(null=True, blank=True)
    wanted_at = models.DateTimeField()
    wanted_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    queued_at = models.DateTimeField(null=True, blank=True, help_text="By the last sweep.")
    claimed_at = models.DateTimeField(null=True, blank=True)
    claim_expires_at = models.DateTimeField(null=True, blank=True)
    attempts = models.PositiveIntegerField(default=0)
    error = models.CharField(max_length=300, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)

    objects = PaperQuerySet.as_manager()

    class Meta:
        ordering = ("show_class__position", "kind", "entry__number", "-version")
        indexes = (models.Index(fields=["state", "wanted_at"], name="paper_by_state"),)
        constraints = (
            models.UniqueConstraint(
                fields=["kind", "entry", "show_class", "version"], name="paper_once_a_version"
            ),
            models.CheckConstraint(
                condition=~Q(state="done") | ~(Q(file="") | Q(content_hash="")),
                name="done_paper_has_file",
            ),
        )

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.entry}"

    @property
    def code_printed(self) -> str:
        """The code in groups, as it stands on the paper."""
        return printed(self.code)

    @property
    def download_name(self) -> str:
        """What the file is called on the exhibitor's own machine; plain letters only."""
        number = self.entry.number or self.entry.pk
        return f"{self.kind}-{self.show.slug}-{self.show_class.code}-{number}-v{self.version}.pdf"
