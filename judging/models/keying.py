"""Paper cards, and what two people keyed from each of them."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from entries.models import Entry
from judging.models.judge import Judge
from judging.models.scorecard import Scorecard
from judging.rules.round.paper_number import card_number
from showrun.shows.models import Person

TURNS = ((1, _("first keying")), (2, _("second keying")), (3, _("third look")))


class PaperCard(models.Model):
    """One judge's card of one entry on paper, of one version of the scorecard.

    Starting over raises `edition`; what was keyed before stays with its own.
    """

    judge = models.ForeignKey(Judge, on_delete=models.PROTECT, related_name="+")
    entry = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="+")
    scorecard = models.ForeignKey(Scorecard, on_delete=models.PROTECT, related_name="+")
    issued_at = models.DateTimeField()
    edition = models.PositiveIntegerField(default=1)
    taken_at = models.DateTimeField(null=True, blank=True, help_text="Into the judge's card.")
    taken_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ("entry__number", "judge__code", "pk")
        constraints = (
            models.UniqueConstraint(
                fields=["judge", "entry", "scorecard"], name="paper_card_once_a_version"
            ),
            models.CheckConstraint(
                condition=Q(taken_at__isnull=True, taken_by__isnull=True)
                | Q(taken_at__isnull=False, taken_by__isnull=False),
                name="paper_card_taken_by_somebody",
            ),
        )

    def __str__(self) -> str:
        return f"paper card {self.number}, {self.judge} at {self.entry}"

    @property
    def number(self) -> str:
        """What stands on the paper, check digits and all."""
        return card_number(self.pk)


class Keying(models.Model):
    """What one person read on a paper card; the third is a look at what differs."""

    card = models.ForeignKey(PaperCard, on_delete=models.CASCADE, related_name="keyings")
    edition = models.PositiveIntegerField()
    turn = models.PositiveSmallIntegerField(choices=TURNS)
    keyed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    keyed_at = models.DateTimeField()

    class Meta:
        ordering = ("card", "edition", "turn")
        constraints = (
            models.UniqueConstraint(fields=["card", "edition", "turn"], name="keying_once_a_turn"),
            models.UniqueConstraint(
                fields=["card", "edition", "keyed_by"],
                condition=Q(turn__lt=3),
                name="keyed_by_two_persons",
            ),
            models.CheckConstraint(
                condition=Q(turn__gte=1, turn__lte=3), name="keying_has_three_turns"
            ),
        )

    def __str__(self) -> str:
        return f"{self.get_turn_display()} of {self.card} by {self.keyed_by}"


class KeyedRow(models.Model):
    """What stands at one place of the card, in the one way it is written and compared."""

    CHOICES = (
        ("first", _("as first keyed")),
        ("second", _("as keyed second")),
        ("typed", _("typed anew")),
    )

    keying = models.ForeignKey(Keying, on_delete=models.CASCADE, related_name="rows")
    place = models.CharField(max_length=100, help_text="Such as row:hub or remark:harness.")
    given = models.CharField(max_length=300, blank=True)
    chosen = models.CharField(
        max_length=6, blank=True, choices=CHOICES, help_text="Of a third look: what it went by."
    )

    class Meta:
        ordering = ("keying", "pk")
        constraints = (
            models.UniqueConstraint(fields=["keying", "place"], name="keyed_once_a_place"),
        )

    def __str__(self) -> str:
        return f"{self.place}: {self.given}"
