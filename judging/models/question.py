"""Questions: a check found something odd, and a judge says what is right."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from entries.models import Entry
from judging.models.judge import Judge
from judging.models.scorecard import Criterion
from showrun.shows.models import Person


class Question(models.Model):
    """Put to a judge about one mark, one card, or the whole day; answered, never dropped."""

    class State(models.TextChoices):
        OPEN = "open", _("waits for the judge")
        CONFIRMED = "confirmed", _("confirmed")
        CORRECTED = "corrected", _("corrected")
        CANNOT_RECALL = "unsure", _("cannot recall")
        PROPOSED = "proposed", _("waits for a second officer")
        CLOSED = "closed", _("closed by the office")

    class Kind(models.TextChoices):
        MARK = "marks", _("a mark")
        CARD = "cards", _("a whole card")
        SWAP = "swaps", _("two cards exchanged")
        DAY = "day", _("the judge's whole day")

    # A result is not signed while one of these is there.
    WAITING = (State.OPEN, State.PROPOSED)

    judge = models.ForeignKey(Judge, on_delete=models.PROTECT, related_name="questions")
    kind = models.CharField(max_length=10, choices=Kind.choices, default=Kind.MARK)
    check_name = models.CharField(max_length=20, default="marks", help_text="Which check asked.")
    entry = models.ForeignKey(
        Entry, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    other_entry = models.ForeignKey(
        Entry, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    criterion = models.ForeignKey(
        Criterion, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    value = models.DecimalField(
        max_digits=5, decimal_places=2, null=True, blank=True, help_text="The mark asked about."
    )
    expected = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    sentence = models.CharField(max_length=400, blank=True, help_text="What the judge is asked.")
    # The marks it was asked about; other marks may be asked about anew.
    asked_about = models.CharField(max_length=64, blank=True)
    statistic = models.FloatField(help_text="As the check states it.")
    threshold = models.FloatField()
    alpha = models.FloatField(help_text="Chance of any false question in a clean show.")
    asked_at = models.DateTimeField()
    state = models.CharField(max_length=10, choices=State.choices, default=State.OPEN)
    answer = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    reason = models.CharField(max_length=300, blank=True)
    # A correction typed in the office changes nothing until a second officer stands by it.
    proposed_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    proposed_at = models.DateTimeField(null=True, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ("state", "id")
        constraints = (
            models.UniqueConstraint(
                fields=["judge", "entry", "criterion", "value"], name="asked_once_about_a_mark"
            ),
            models.UniqueConstraint(
                fields=["judge", "check_name", "entry", "asked_about"],
                condition=Q(criterion__isnull=True, entry__isnull=False),
                name="asked_once_about_a_card",
            ),
            models.UniqueConstraint(
                fields=["judge", "check_name", "asked_about"],
                condition=Q(criterion__isnull=True, entry__isnull=True),
                name="asked_once_about_a_day",
            ),
        )

    def __str__(self) -> str:
        about = [self.entry, self.other_entry, self.criterion]
        named = ", ".join(str(one) for one in about if one is not None)
        return f"{self.judge}, {named or self.check_name}?"
