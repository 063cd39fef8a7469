"""A paper: the row is the queue entry, the state of the work and the finished file."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import models
from django.db.models import Exists, F, OuterRef, Q, Subquery, Value
from django.db.models.functions import Coalesce

from entries.models import Entry
from judging.models import Announcement, Judge, Result, Scorecard, Window
from reports.rules.code import printed
from showrun.shows.models import Person, Show, ShowClass


def file_name(paper: Paper, _: str) -> str:
    """Name the file by its content, so that drawing it again writes the same file."""
    return f"papers/{paper.show_id}/{paper.kind}-{paper.pk}-{paper.content_hash[:16]}.pdf"


class PaperQuerySet(models.QuerySet["Paper"]):
    """Papers by what may be done with them."""

    def current(self) -> PaperQuerySet:
        """Papers of results that are released and not replaced, and of the times that count."""
        told = Announcement.objects.filter(show=OuterRef("show")).order_by("-number")
        counts = Coalesce(Subquery(told.values("number")[:1]), Value(1))
        published = Window.objects.filter(show=OuterRef("show"), published_at__isnull=False)
        return self.filter(
            Q(result__released_at__isnull=False, result__replaced_at__isnull=True)
            | Q(Exists(published), kind=Paper.Kind.WALL, version=counts)
        )

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
    """One sheet of one version: of an entry in a class's result, or of the announced times.

    Award and feedback sheets have a class, an entry and a result; the wall sheet has none of them,
    and its version is the number of the announcement. Paper cards have a judge and a scorecard,
    and an entry where it is one wagon's card alone; their version counts the judge's printings.
    """

    class Kind(models.TextChoices):
        AWARD = "award", "award sheet"
        FEEDBACK = "feedback", "feedback sheet"
        WALL = "wall", "wall sheet"
        CARD = "card", "paper cards"

    class State(models.TextChoices):
        WANTED = "wanted", "waits for a worker"
        DRAWING = "drawing", "being drawn"
        DONE = "done", "ready"
        FAILED = "failed", "could not be drawn"
        CANCELLED = "cancelled", "cancelled"

    show = models.ForeignKey(Show, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=12, choices=Kind.choices)
    show_class = models.ForeignKey(
        ShowClass, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    entry = models.ForeignKey(
        Entry, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    result = models.ForeignKey(
        Result, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    judge = models.ForeignKey(
        Judge, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    scorecard = models.ForeignKey(
        Scorecard, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    version = models.PositiveIntegerField(
        help_text="Of the result, or the announcement's or the printing's number."
    )
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
            models.UniqueConstraint(
                fields=["show", "version"],
                condition=Q(kind="wall"),
                name="wall_sheet_once_a_version",
            ),
            models.UniqueConstraint(
                fields=["judge", "version"], condition=Q(kind="card"), name="printing_once_a_judge"
            ),
            models.CheckConstraint(
                condition=Q(
                    kind="wall",
                    show_class__isnull=True,
                    entry__isnull=True,
                    result__isnull=True,
                    judge__isnull=True,
                    scorecard__isnull=True,
                )
                | Q(
                    kind="card",
                    show_class__isnull=True,
                    result__isnull=True,
                    judge__isnull=False,
                    scorecard__isnull=False,
                )
                | Q(
                    ~Q(kind__in=["wall", "card"]),
                    show_class__isnull=False,
                    entry__isnull=False,
                    result__isnull=False,
                    judge__isnull=True,
                    scorecard__isnull=True,
                ),
                name="paper_of_result_or_of_times",
            ),
            models.CheckConstraint(
                condition=~Q(state="done") | ~(Q(file="") | Q(content_hash="")),
                name="done_paper_has_file",
            ),
        )

    def __str__(self) -> str:
        of = f"announcement {self.version}" if self.is_wall else self.entry
        if self.is_card:
            of = f"{self.judge}, printing {self.version}"
        return f"{self.get_kind_display()}, {of}"

    @property
    def is_wall(self) -> bool:
        """Whether it shows the announced times, not a result."""
        return self.kind == Paper.Kind.WALL

    @property
    def is_card(self) -> bool:
        """Whether it is for a judge to mark on, and no exhibitor's to see."""
        return self.kind == Paper.Kind.CARD

    @property
    def names_judges(self) -> bool:
        """Whether only the office may have it."""
        return self.is_wall or self.is_card

    @property
    def of_result(self) -> tuple[ShowClass, Entry, Result]:
        """Class, entry and result of an award or feedback sheet; no other paper has them."""
        if self.show_class is None or self.entry is None or self.result is None:
            raise ValueError(f"{self} is not of a result")
        return self.show_class, self.entry, self.result

    @property
    def code_printed(self) -> str:
        """The code in groups, as it stands on the paper."""
        return printed(self.code)

    @property
    def download_name(self) -> str:
        """What the file is called on the exhibitor's own machine; plain letters only."""
        if self.judge is not None:
            return f"{self.kind}-{self.show.slug}-{self.judge.code}-v{self.version}.pdf"
        if self.entry is None or self.show_class is None:
            return f"{self.kind}-{self.show.slug}-v{self.version}.pdf"
        number = self.entry.number or self.entry.pk
        return f"{self.kind}-{self.show.slug}-{self.show_class.code}-{number}-v{self.version}.pdf"
