"""A paper: the row is the queue entry, the state of the work and the finished file."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import models
from django.db.models import Exists, F, OuterRef, Q, Subquery, Value
from django.db.models.functions import Coalesce
from django.utils.translation import gettext_lazy as lazy

from entries.models import Entry, Posting
from judging.models import Announcement, Judge, Result, Scorecard, Window
from reports.rules.code import printed
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.language import in_english
from showrun.shows.models import Person, Show, ShowClass
from showrun.shows.rules.clocks import CLOCKS_DIFFER


def file_name(paper: Paper, given: str) -> str:
    """Name the file by its content, so that drawing it again writes the same file."""
    return (
        f"papers/{paper.show_id}/{paper.kind}-{paper.pk}-{paper.content_hash[:16]}.{paper.ending}"
    )


# What each kind of paper is of, and so which of its columns are filled.
OF_ENTRY = ("award", "feedback", "certificate")
OF_RESULT = ("record", "calls", "purse")
OF_SHOW = ("wall", "signs", "plates", "study", "bundle", "book")
OF_JUDGE = ("card", "report")
# Of these the newest printing counts.
BY_PRINTING = ("study", "report", "signs", "plates", "bundle", "book")
BUNDLES = ("bundle", "book")
_LINKS = ("show_class", "entry", "result", "judge", "scorecard", "posting")


def _shape(kinds: tuple[str, ...], filled: tuple[str, ...], either: tuple[str, ...] = ()) -> Q:
    """Say which links papers of these kinds have; those in `either` may be there or not."""
    links = {f"{link}__isnull": link not in filled for link in _LINKS if link not in either}
    return Q(kind__in=kinds, **links)


def _shapes() -> Q:
    return (
        _shape(OF_ENTRY, ("show_class", "entry", "result"))
        | _shape(OF_RESULT, ("show_class", "result"))
        | _shape(OF_SHOW, ())
        | _shape(("card",), ("judge", "scorecard"), either=("entry",))
        | _shape(("report",), ("judge",))
        | _shape(("receipt",), ("entry", "posting"))
    )


# Each kind inside a sentence: the article is its language's.
A_KIND = {
    "award": N_("an award sheet"),
    "feedback": N_("a feedback sheet"),
    "wall": N_("a wall sheet"),
    "card": N_("paper cards"),
    "certificate": N_("a certificate"),
    "record": N_("record of results"),
    "calls": N_("an announcer's list"),
    "purse": N_("a purse sheet"),
    "signs": N_("camp signs"),
    "plates": N_("number plates"),
    "study": N_("study sheet of parts"),
    "receipt": N_("a receipt"),
    "report": N_("a judge's own report"),
    "bundle": N_("bundle of papers"),
    "book": N_("book of papers"),
}


class PaperQuerySet(models.QuerySet["Paper"]):
    """Papers by what may be done with them."""

    def current(self) -> PaperQuerySet:
        """Papers of results that are released and not replaced, and of the times that count."""
        told = Announcement.objects.filter(show=OuterRef("show")).order_by("-number")
        counts = Coalesce(Subquery(told.values("number")[:1]), Value(1))
        published = Window.objects.filter(show=OuterRef("show"), published_at__isnull=False)
        # Of what is printed anew whenever it is asked for, the newest printing.
        later = Paper.objects.filter(
            show=OuterRef("show"), kind=OuterRef("kind"), version__gt=OuterRef("version")
        )
        later = later.filter(Q(judge=OuterRef("judge")) | Q(judge__isnull=True))
        return self.filter(
            Q(result__released_at__isnull=False, result__replaced_at__isnull=True)
            | Q(Exists(published), kind=Paper.Kind.WALL, version=counts)
            | Q(~Exists(later), kind__in=BY_PRINTING)
        )

    def to_claim(self, at: datetime) -> PaperQuerySet:
        """Papers nobody is drawing: wanted, or left behind by a worker that vanished.

        A claim of a time to come was made before the clock was set back.
        """
        left_behind = Q(claim_expires_at__lte=at) | Q(claimed_at__gt=at + CLOCKS_DIFFER)
        return self.filter(Q(state=Paper.State.WANTED) | Q(left_behind, state=Paper.State.DRAWING))

    def to_queue(self, at: datetime, patience: timedelta) -> PaperQuerySet:
        """Papers to claim for which the queue has not been asked lately.

        A claim that ran out since the queue was last asked is reason enough to ask again.
        """
        asked_at = Coalesce("queued_at", "wanted_at")
        left_behind = Q(state=Paper.State.DRAWING, claim_expires_at__gt=F("asked_at"))
        waiting = self.to_claim(at).alias(asked_at=asked_at)
        long_ago = Q(asked_at__lte=at - patience) | Q(asked_at__gt=at + CLOCKS_DIFFER)
        return waiting.filter(left_behind | long_ago)

    def unfinished(self) -> PaperQuerySet:
        return self.filter(state__in=Paper.UNFINISHED)


class Paper(models.Model):
    """One sheet of one version: of an entry in a class's result, or of the announced times.

    Award and feedback sheets have a class, an entry and a result; papers of a result have no entry;
    the wall sheet has none of them, and its version is the number of the announcement. Paper cards
    have a judge and a scorecard, and an entry where it is one wagon's card alone; their version
    counts the judge's printings. A receipt is of one posting of the ledger.
    """

    class Kind(models.TextChoices):
        AWARD = "award", lazy("award sheet")
        FEEDBACK = "feedback", lazy("feedback sheet")
        WALL = "wall", lazy("wall sheet")
        CARD = "card", lazy("paper cards")
        CERTIFICATE = "certificate", lazy("certificate")
        RECORD = "record", lazy("record of results")
        CALLS = "calls", lazy("announcer's list")
        PURSE = "purse", lazy("purse sheet")
        SIGNS = "signs", lazy("camp signs")
        PLATES = "plates", lazy("number plates")
        STUDY = "study", lazy("study sheet of parts")
        RECEIPT = "receipt", lazy("receipt")
        REPORT = "report", lazy("judge's own report")
        BUNDLE = "bundle", lazy("bundle of papers")
        BOOK = "book", lazy("book of papers")

    class State(models.TextChoices):
        WANTED = "wanted", lazy("waits for a worker")
        DRAWING = "drawing", lazy("being drawn")
        DONE = "done", lazy("ready")
        FAILED = "failed", lazy("could not be drawn")
        CANCELLED = "cancelled", lazy("cancelled")

    UNFINISHED = (State.WANTED, State.DRAWING)

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
    posting = models.ForeignKey(
        Posting, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
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
                fields=["show", "kind", "version"],
                condition=Q(kind__in=OF_SHOW),
                name="paper_of_show_once_a_version",
            ),
            models.UniqueConstraint(
                fields=["result", "kind"],
                condition=Q(kind__in=OF_RESULT),
                name="paper_of_result_once_a_kind",
            ),
            models.UniqueConstraint(
                fields=["judge", "kind", "version"],
                condition=Q(kind__in=OF_JUDGE),
                name="printing_once_a_judge",
            ),
            models.UniqueConstraint(
                fields=["posting"], condition=Q(kind="receipt"), name="receipt_once_a_posting"
            ),
            models.CheckConstraint(condition=_shapes(), name="paper_is_of_what_its_kind_says"),
            models.CheckConstraint(
                condition=~Q(state="done") | ~(Q(file="") | Q(content_hash="")),
                name="done_paper_has_file",
            ),
        )

    def __str__(self) -> str:
        with in_english():  # the record calls papers by it
            return f"{self.get_kind_display()}, {self.of_what}"

    @property
    def is_finished(self) -> bool:
        """Whether no worker draws it or is about to, so that it may be wanted again."""
        return self.state not in self.UNFINISHED

    @property
    def of_what(self) -> str:
        """What it is of, as a table of papers says it."""
        if self.is_wall:
            return f"announcement {self.version}"
        if self.judge is not None:
            return f"{self.judge}, printing {self.version}"
        if self.entry is not None:
            return str(self.entry)
        return str(self.show_class.name if self.show_class else self.show)

    @property
    def is_wall(self) -> bool:
        """Whether it shows the announced times, not a result."""
        return self.kind == Paper.Kind.WALL

    @property
    def is_card(self) -> bool:
        """Whether it is for a judge to mark on, and no exhibitor's to see."""
        return self.kind == Paper.Kind.CARD

    @property
    def a_kind(self) -> str:
        """Its kind inside a sentence."""
        return _(A_KIND[self.kind])

    @property
    def is_bundle(self) -> bool:
        """Whether it holds other papers."""
        return self.kind in BUNDLES

    @property
    def is_of_class(self) -> bool:
        """Whether it tells a whole class's result."""
        return self.kind in OF_RESULT

    @property
    def is_kept_for_years(self) -> bool:
        """Whether the office files it: it is drawn to be read as it is in twenty years."""
        return self.kind == Paper.Kind.RECORD

    @property
    def is_of_judge(self) -> bool:
        """Whether it is for one judge alone, beside the office."""
        return self.kind == Paper.Kind.REPORT

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
    def ending(self) -> str:
        """What its file's name ends in."""
        return "zip" if self.kind == Paper.Kind.BUNDLE else "pdf"

    @property
    def download_name(self) -> str:
        """What the file is called on the exhibitor's own machine; plain letters only."""
        of: list[object] = [self.kind, self.show.slug]
        if self.judge is not None:
            of.append(self.judge.code)
        elif self.show_class is not None:
            of.append(self.show_class.code)
            if self.entry is not None:
                of.append(self.entry.number or self.entry.pk)
        return f"{'-'.join(map(str, of))}-v{self.version}.{self.ending}"
