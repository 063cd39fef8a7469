"""What the office types into the ledger's forms; each brings the key that makes it post once."""

from __future__ import annotations

from typing import Any
from uuid import UUID, uuid4

from django import forms

from entries.actions.charge_entry import LONGEST_WORDS
from entries.actions.refund_entry import LONGEST_REASON
from entries.actions.reverse_posting import LONGEST_REASON as LONGEST_UNDOING
from entries.actions.take_payment import LONGEST_REFERENCE, WAYS_SAID
from entries.actions.take_to_bank import SAID
from entries.rules.ledger import CHARGED, MONEY_OUT, Account, Method
from entries.rules.money_words import plain_amount, read_dollars
from showrun.shows.web.office_form import OfficeForm

WAYS_IN = [(way.value, WAYS_SAID[way]) for way in (Method.CASH, Method.CHEQUE, Method.TRANSFER)]
WAYS_OUT = [(way.value, WAYS_SAID[way]) for way in MONEY_OUT]
TO_ACCOUNT = ("", "Set against what is owed")
CHARGES = {Account.FEES: "Entry fee", Account.DEPOSITS: "Deposit", Account.OTHER: "Something else"}


def plain(cents: int) -> str:
    """Write an amount as it is typed; nothing for nothing."""
    return plain_amount(cents) if cents > 0 else ""


class AmountField(forms.CharField):
    """An amount in dollars, kept as cents."""

    def __init__(self, **kwargs: Any) -> None:
        look = {"inputmode": "decimal", "autocomplete": "off"}
        kwargs.setdefault("label", "Amount in dollars")
        kwargs.setdefault("error_messages", {"required": "How much?"})
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
    title = ""
    button = "Post"
    hint = ""

    key = forms.UUIDField(
        widget=forms.HiddenInput, error_messages={"required": "Open the page again, please."}
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs["initial"] = {"key": uuid4(), **kwargs.get("initial", {})}
        kwargs.setdefault("prefix", self.do)
        super().__init__(*args, **kwargs)

    @property
    def posting_key(self) -> UUID:
        """The key of a valid form."""
        key = self.cleaned_data["key"]
        assert isinstance(key, UUID)
        return key

    def asked(self, *, cents: str = "amount") -> dict[str, Any]:
        """Return what was typed, as the actions name it."""
        found = {name: value for name, value in self.cleaned_data.items() if name != "amount"}
        if "amount" in self.cleaned_data:
            found[cents] = self.cleaned_data["amount"]
        return found


def _reference(hint: str) -> forms.CharField:
    return forms.CharField(
        label="Reference", help_text=hint, max_length=LONGEST_REFERENCE, required=False
    )


class PaymentForm(PostingForm):
    """Money taken from the exhibitor."""

    do, title, button = "payment", "Take a payment", "Take the payment"

    amount = AmountField()
    method = forms.ChoiceField(label="How", choices=WAYS_IN)
    reference = _reference("The number of a cheque, the text of a transfer.")


class ChargeForm(PostingForm):
    """Something charged by hand."""

    do, title, button = "charge", "Charge something", "Charge it"

    account = forms.ChoiceField(
        label="What", choices=[(one.value, CHARGES[one]) for one in reversed(CHARGED)]
    )
    amount = AmountField()
    words = forms.CharField(
        label="What it is for",
        help_text="Stands on the exhibitor's page.",
        max_length=LONGEST_WORDS,
        error_messages={"required": "What is it for?"},
    )


class FeesForm(PostingForm):
    """The show's fee and deposit, where they were not charged on entering."""

    do, title, button = "fees", "Charge fee and deposit", "Charge them"
    hint = "Each is charged once, whoever asks how often."


class RefundForm(PostingForm):
    """A part of the fee given back."""

    do, title, button = "refund", "Give back a part of the fee", "Give it back"

    left_on = forms.DateField(
        label="Left the show on",
        required=False,
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
        error_messages={"invalid": "A day, please, such as 2027-04-30."},
    )
    amount = AmountField(
        label="Another amount in dollars",
        help_text="Leave it empty to go by the show's dates.",
        required=False,
    )
    reason = forms.CharField(
        label="Reason",
        help_text="Needed for another amount; the exhibitor reads it.",
        max_length=LONGEST_REASON,
        required=False,
    )


class ReturnDepositForm(PostingForm):
    """The deposit given back."""

    do, title, button = "return", "Return the deposit", "Return it"

    amount = AmountField(required=False, help_text="Leave it empty for all of it.")


class KeepDepositForm(PostingForm):
    """The deposit kept."""

    do, title, button = "keep", "Keep the deposit", "Keep it"

    amount = AmountField(required=False, help_text="Leave it empty for all of it.")
    reason = forms.CharField(
        label="Reason",
        help_text="The exhibitor reads it.",
        max_length=LONGEST_REASON,
        error_messages={"required": "Why is it kept?"},
    )


class PayOutForm(PostingForm):
    """What stands in the exhibitor's favor, handed over."""

    do, title, button = "pay-out", "Pay out what stands in favor", "Pay it out"

    amount = AmountField()
    method = forms.ChoiceField(label="How", choices=WAYS_OUT)
    reference = _reference("The number of the show's cheque and such.")


class TravelForm(PostingForm):
    """Travel money."""

    do, title, button = "travel", "Pay travel money", "Pay it"

    amount = AmountField()
    method = forms.ChoiceField(label="How", choices=[*WAYS_OUT, TO_ACCOUNT], required=False)
    reference = _reference("The number of the show's cheque and such.")


class PurseForm(PostingForm):
    """A purse typed by hand."""

    do, title, button = "purse", "Pay a purse", "Pay it"

    amount = AmountField()
    words = forms.CharField(
        label="What it is for",
        help_text="Place and class.",
        max_length=LONGEST_WORDS,
        error_messages={"required": "For which place in which class?"},
    )
    method = forms.ChoiceField(label="How", choices=[*WAYS_OUT, TO_ACCOUNT], required=False)
    reference = _reference("The number of the show's cheque and such.")


class ReverseForm(PostingForm):
    """A posting undone; `number` is its own."""

    do, title, button = "reverse", "Undo a posting", "Undo it"
    hint = "It is posted the other way round, whole; both stay in the book."

    number = forms.IntegerField(
        label="Number of the posting",
        min_value=1,
        error_messages={"required": "Which one?", "invalid": "A whole number, please."},
    )
    reason = forms.CharField(
        label="Reason",
        max_length=LONGEST_UNDOING,
        error_messages={"required": "Why is it undone?"},
    )


class BankForm(PostingForm):
    """Money taken to the bank."""

    do, title, button = "bank", "Take money to the bank", "Note it"

    account = forms.ChoiceField(
        label="From", choices=[(account.value, words) for account, words in SAID.items()]
    )
    amount = AmountField()
    reference = _reference("The number of the deposit slip.")
