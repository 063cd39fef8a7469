"""The show's ledger: double entry in cents; lines are added, never edited."""

from __future__ import annotations

from typing import Any, NoReturn

from django.db import models
from django.db.models import F, Q

from entries.models.entry import Entry
from showrun.language import gettext_noop as N_
from showrun.shows.models import Person, Show


class Posting(models.Model):
    """One event of the money; its lines add up to nothing. A mistake is reversed, not mended."""

    class Kind(models.TextChoices):
        CHARGE = "charge", N_("charge")
        PAYMENT = "payment", N_("payment")
        REFUND = "refund", N_("refund")
        CREDIT = "credit", N_("credit")
        TRAVEL = "travel", N_("travel money")
        PURSE = "purse", N_("purse")
        REVERSAL = "reversal", N_("reversal")

    class Method(models.TextChoices):
        NONE = "", "-"
        CASH = "cash", N_("cash")
        CHEQUE = "cheque", N_("cheque")
        TRANSFER = "transfer", N_("bank transfer")
        ONLINE = "online", N_("online")

    show = models.ForeignKey(Show, on_delete=models.PROTECT, related_name="+")
    number = models.PositiveIntegerField(help_text="Counts up within the show, without a gap.")
    key = models.UUIDField(unique=True, help_text="Made by whoever asks: asked twice, posted once.")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    entry = models.ForeignKey(
        Entry, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    words = models.CharField(max_length=160, help_text="What it is for.")
    method = models.CharField(max_length=10, choices=Method.choices, blank=True)
    reference = models.CharField(max_length=80, blank=True, help_text="Cheque number and such.")
    at = models.DateTimeField()
    by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    reverses = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="reversed_by"
    )

    class Meta:
        ordering = ("show", "number")
        constraints = (
            models.UniqueConstraint(fields=["show", "number"], name="posting_number_once_a_show"),
            models.CheckConstraint(
                condition=Q(kind="reversal", reverses__isnull=False)
                | (~Q(kind="reversal") & Q(reverses__isnull=True)),
                name="reversal_says_what_it_reverses",
            ),
            models.CheckConstraint(
                condition=Q(reverses__isnull=True) | ~Q(reverses=F("id")),
                name="posting_reverses_another",
            ),
        )

    def __str__(self) -> str:
        return f"{self.number}. {self.get_kind_display()}: {self.words}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if self.pk is not None:
            raise TypeError("A posting is never edited; reverse it.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise TypeError("A posting is never removed; reverse it.")


class PostingLine(models.Model):
    """One side of a posting: debit above nothing, credit below."""

    class Account(models.TextChoices):
        EXHIBITORS = "exhibitors", N_("owed by exhibitors")
        CASH = "cash", N_("cash box")
        CHEQUES = "cheques", N_("cheques in hand")
        BANK = "bank", N_("bank")
        ONLINE = "online", N_("online payments on their way")
        DEPOSITS = "deposits", N_("deposits held")
        FEES = "fees", N_("entry fees")
        TRAVEL = "travel", N_("travel money")
        PURSE = "purse", N_("purse")
        OTHER = "other", N_("other")

    posting = models.ForeignKey(Posting, on_delete=models.PROTECT, related_name="lines")
    account = models.CharField(max_length=12, choices=Account.choices)
    amount_cents = models.BigIntegerField(help_text="Debit above zero, credit below.")

    class Meta:
        ordering = ("id",)
        constraints = (
            models.CheckConstraint(condition=~Q(amount_cents=0), name="posting_line_is_not_zero"),
        )

    def __str__(self) -> str:
        return f"{self.account} {self.amount_cents}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if self.pk is not None:
            raise TypeError("A line of the ledger is never edited; reverse its posting.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise TypeError("A line of the ledger is never removed; reverse its posting.")


class OnlinePayment(models.Model):
    """A payment an exhibitor began with the provider the show has chosen."""

    class State(models.TextChoices):
        STARTED = "started", N_("started")
        PAID = "paid", N_("paid")
        FAILED = "failed", N_("failed")
        CANCELLED = "cancelled", N_("cancelled")

    entry = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="+")
    amount_cents = models.PositiveIntegerField()
    provider = models.CharField(max_length=40)
    reference = models.CharField(max_length=120, help_text="The provider's own.")
    state = models.CharField(max_length=10, choices=State.choices, default=State.STARTED)
    started_at = models.DateTimeField()
    started_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    settled_at = models.DateTimeField(null=True, blank=True)
    posting = models.OneToOneField(
        Posting, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ("-id",)
        constraints = (
            models.UniqueConstraint(
                fields=["provider", "reference"], name="online_payment_reference_once"
            ),
            models.CheckConstraint(
                condition=~Q(state="paid") | Q(posting__isnull=False),
                name="paid_online_is_posted",
            ),
        )

    def __str__(self) -> str:
        return f"{self.provider} {self.reference}: {self.state}"
