"""What the office types into the ledger's forms; each brings the key that makes it post once."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from uuid import UUID, uuid4

from django import forms
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy

from entries.actions.charge_entry import LONGEST_WORDS
from entries.actions.refund_entry import LONGEST_REASON
from entries.actions.reverse_posting import LONGEST_REASON as LONGEST_UNDOING
from entries.actions.take_payment import LONGEST_REFERENCE, WAYS_SAID
from entries.actions.take_to_bank import SAID
from entries.models import Entry
from entries.queries.purses import purse_paid
from entries.rules.ledger import CHARGED, MONEY_OUT, Account, Method
from entries.rules.money_words import plain_amount, read_dollars
from showrun.shows.models import ShowClass
from showrun.shows.web.office_form import OfficeForm

if TYPE_CHECKING:
    from django.utils.functional import _StrPromise

WAYS_IN = [
    (way.value, gettext_lazy(WAYS_SAID[way]))
    for way in (Method.CASH, Method.CHEQUE, Method.TRANSFER)
]
WAYS_OUT = [(way.value, gettext_lazy(WAYS_SAID[way])) for way in MONEY_OUT]
TO_ACCOUNT = ("", gettext_lazy("Set against what is owed"))
CHARGES = {
    Account.FEES: gettext_lazy("Entry fee"),
    Account.DEPOSITS: gettext_lazy("Deposit"),
    Account.OTHER: gettext_lazy("Something else"),
}


def plain(cents: int) -> str:
    """Write an amount as it is typed; nothing for nothing."""
    return plain_amount(cents) if cents > 0 else ""


class AmountField(forms.CharField):
    """An amount in dollars, kept as cents."""

    def __init__(self, **kwargs: Any) -> None:
        look = {"inputmode": "decimal", "autocomplete": "off"}
        kwargs.setdefault("label", gettext_lazy("Amount in dollars"))
        kwargs.setdefault("error_messages", {"required": gettext_lazy("How much?")})
        super().__init__(max_length=20, widget=forms.TextInput(attrs=look), **kwargs)

    def clean(self, value: Any) -> int | None:  # type: ignore[override]
        """Return the cents, or None where the field may be empty and is."""
        typed = super().clean(value)
        if not typed:
            return None
        try:
            return read_dollars(typed)
        except ValueError as fault:
            raise forms.ValidationError(str(fault)) from fault


class PostingForm(OfficeForm):
    """A form that posts once: its key is made when the page is."""

    do = ""
    title: str | Promise = ""
    button: str | Promise = gettext_lazy("Post")
    hint: str | Promise = ""

    key = forms.UUIDField(
        widget=forms.HiddenInput,
        error_messages={"required": gettext_lazy("Open the page again, please.")},
    )

    def __init__(self, *args: Any, entry: Entry | None = None, **kwargs: Any) -> None:
        kwargs["initial"] = {"key": uuid4(), **kwargs.get("initial", {})}
        kwargs.setdefault("prefix", self.do)
        super().__init__(*args, **kwargs)
        if entry is not None:
            self.fit(entry)

    def fit(self, entry: Entry) -> None:
        """Offer what can be chosen for this entry."""

    def asked(self) -> dict[str, Any]:
        """Return what was typed, as the actions name it."""
        found = dict(self.cleaned_data)
        if "amount" in found:
            found["cents"] = found.pop("amount")
        return found


def _reference(hint: _StrPromise) -> forms.CharField:
    return forms.CharField(
        label=gettext_lazy("Reference"),
        help_text=hint,
        max_length=LONGEST_REFERENCE,
        required=False,
    )


class PaymentForm(PostingForm):
    """Money taken from the exhibitor."""

    do, title, button = "payment", gettext_lazy("Take a payment"), gettext_lazy("Take the payment")

    amount = AmountField()
    method = forms.ChoiceField(label=gettext_lazy("How"), choices=WAYS_IN)
    reference = _reference(gettext_lazy("The number of a cheque, the text of a transfer."))


class ChargeForm(PostingForm):
    """Something charged by hand."""

    do, title, button = "charge", gettext_lazy("Charge something"), gettext_lazy("Charge it")

    account = forms.ChoiceField(
        label=gettext_lazy("What"), choices=[(one.value, CHARGES[one]) for one in reversed(CHARGED)]
    )
    amount = AmountField()
    words = forms.CharField(
        label=gettext_lazy("What it is for"),
        help_text=gettext_lazy("Stands on the exhibitor's page."),
        max_length=LONGEST_WORDS,
        error_messages={"required": gettext_lazy("What is it for?")},
    )


class FeesForm(PostingForm):
    """The show's fee and deposit, where they were not charged on entering."""

    do, title, button = "fees", gettext_lazy("Charge fee and deposit"), gettext_lazy("Charge them")
    hint = gettext_lazy("Each is charged once, whoever asks how often.")


class RefundForm(PostingForm):
    """A part of the fee given back."""

    do, title, button = (
        "refund",
        gettext_lazy("Give back a part of the fee"),
        gettext_lazy("Give it back"),
    )

    left_on = forms.DateField(
        label=gettext_lazy("Left the show on"),
        required=False,
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
        error_messages={"invalid": gettext_lazy("A day, please, such as 2027-04-30.")},
    )
    amount = AmountField(
        label=gettext_lazy("Another amount in dollars"),
        help_text=gettext_lazy("Leave it empty to go by the show's dates."),
        required=False,
    )
    reason = forms.CharField(
        label=gettext_lazy("Reason"),
        help_text=gettext_lazy("Needed for another amount; the exhibitor reads it."),
        max_length=LONGEST_REASON,
        required=False,
    )


class ReturnDepositForm(PostingForm):
    """The deposit given back."""

    do, title, button = "return", gettext_lazy("Return the deposit"), gettext_lazy("Return it")

    amount = AmountField(required=False, help_text=gettext_lazy("Leave it empty for all of it."))


class KeepDepositForm(PostingForm):
    """The deposit kept."""

    do, title, button = "keep", gettext_lazy("Keep the deposit"), gettext_lazy("Keep it")

    amount = AmountField(required=False, help_text=gettext_lazy("Leave it empty for all of it."))
    reason = forms.CharField(
        label=gettext_lazy("Reason"),
        help_text=gettext_lazy("The exhibitor reads it."),
        max_length=LONGEST_REASON,
        error_messages={"required": gettext_lazy("Why is it kept?")},
    )


class PayOutForm(PostingForm):
    """What stands in the exhibitor's favor, handed over."""

    do, title, button = (
        "pay-out",
        gettext_lazy("Pay out what stands in favor"),
        gettext_lazy("Pay it out"),
    )

    amount = AmountField()
    method = forms.ChoiceField(label=gettext_lazy("How"), choices=WAYS_OUT)
    reference = _reference(gettext_lazy("The number of the show's cheque and such."))


class TravelForm(PostingForm):
    """Travel money."""

    do, title, button = "travel", gettext_lazy("Pay travel money"), gettext_lazy("Pay it")

    amount = AmountField()
    method = forms.ChoiceField(
        label=gettext_lazy("How"), choices=[*WAYS_OUT, TO_ACCOUNT], required=False
    )
    reference = _reference(gettext_lazy("The number of the show's cheque and such."))


OF_NO_CLASS = "none"


class PurseOfField(forms.ChoiceField):
    """The class a purse is of, chosen by the key of the posting to be made.

    A key that was used is taken too: sent twice, the form posts once.
    """

    used: frozenset[str] = frozenset()

    def valid_value(self, value: str) -> bool:
        """Take what is offered, and what was."""
        return value in self.used or super().valid_value(value)


class PurseForm(PostingForm):
    """A purse typed by hand."""

    do, title, button = "purse", gettext_lazy("Pay a purse"), gettext_lazy("Pay it")

    purse_of = PurseOfField(
        label=gettext_lazy("Purse of the class"),
        help_text=gettext_lazy("What is paid here is not paid again on the page of purses."),
        error_messages={"required": gettext_lazy("The purse of which class?")},
    )
    amount = AmountField()
    words = forms.CharField(
        label=gettext_lazy("What it is for"),
        help_text=gettext_lazy("Place and class."),
        max_length=LONGEST_WORDS,
        error_messages={"required": gettext_lazy("For which place in which class?")},
    )
    method = forms.ChoiceField(
        label=gettext_lazy("How"), choices=[*WAYS_OUT, TO_ACCOUNT], required=False
    )
    reference = _reference(gettext_lazy("The number of the show's cheque and such."))

    def fit(self, entry: Entry) -> None:
        """Offer the entry's classes."""
        field = self.fields["purse_of"]
        assert isinstance(field, PurseOfField)
        classes = ShowClass.objects.filter(pk__in=entry.classes.values("show_class"))
        paid = [(one, purse_paid(one, entry)) for one in classes.order_by("position")]
        field.used = frozenset(str(posting.key) for _, one in paid for posting in one.posted)
        field.choices = [
            ("", gettext_lazy("Choose…")),
            *((str(there.next_key), one.name) for one, there in paid),
            (OF_NO_CLASS, gettext_lazy("None of these")),
        ]

    def asked(self) -> dict[str, Any]:
        """Return what was typed; the purse of a class is posted under its own key."""
        found = super().asked()
        chosen = found.pop("purse_of")
        return found if chosen == OF_NO_CLASS else {**found, "key": UUID(chosen)}


class ReverseForm(PostingForm):
    """A posting undone; `number` is its own."""

    do, title, button = "reverse", gettext_lazy("Undo a posting"), gettext_lazy("Undo it")
    hint = gettext_lazy("It is posted the other way round, whole; both stay in the book.")

    number = forms.IntegerField(
        label=gettext_lazy("Number of the posting"),
        min_value=1,
        error_messages={
            "required": gettext_lazy("Which one?"),
            "invalid": gettext_lazy("A whole number, please."),
        },
    )
    reason = forms.CharField(
        label=gettext_lazy("Reason"),
        max_length=LONGEST_UNDOING,
        error_messages={"required": gettext_lazy("Why is it undone?")},
    )


class BankForm(PostingForm):
    """Money taken to the bank."""

    do, title, button = "bank", gettext_lazy("Take money to the bank"), gettext_lazy("Note it")

    account = forms.ChoiceField(
        label=gettext_lazy("From"),
        choices=[(account.value, gettext_lazy(words)) for account, words in SAID.items()],
    )
    amount = AmountField()
    reference = _reference(gettext_lazy("The number of the deposit slip."))
