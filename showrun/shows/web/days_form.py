"""What every show says of itself: its name, its ground and its days."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django import forms
from django.utils.translation import gettext_lazy as lazy

from showrun.shows.web.office_form import OfficeForm

if TYPE_CHECKING:
    from django.utils.functional import _StrPromise

A_DAY = {
    "required": lazy("A day, please."),
    "invalid": lazy("A day such as 2027-05-14, please."),
}


def day_field(label: _StrPromise, **more: Any) -> forms.DateField:
    """Ask for a day, written as ISO 8601 has it."""
    picker = forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
    return forms.DateField(label=label, widget=picker, error_messages=A_DAY, **more)


class DaysForm(OfficeForm):
    """A show's name, ground and days; days left empty follow the first."""

    name = forms.CharField(
        label=lazy("Name of the show"),
        max_length=120,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": lazy("What is the show called?")},
    )
    ground = forms.CharField(
        label=lazy("Ground"),
        help_text=lazy("Where it is, as people find it."),
        max_length=160,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": lazy("Where is the show?")},
    )
    starts_on = day_field(lazy("First day"), help_text=lazy("When the show opens."))
    ends_on = day_field(
        lazy("Last day"), required=False, help_text=lazy("Empty: the first day is the last.")
    )
    judged_on = day_field(
        lazy("Day of judging"), required=False, help_text=lazy("Empty: the first day.")
    )

    def clean(self) -> dict[str, Any]:
        """Fill in the days left empty."""
        given: dict[str, Any] = super().clean() or {}
        first = given.get("starts_on")
        if first is not None:
            for later in ("ends_on", "judged_on"):
                given[later] = given.get(later) or first
        return given
