"""What the office types while it sets the judging up."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy

from entries.models import Entry
from entries.rules.places import Status
from entries.rules.rig import FACTS, WORDS
from judging.models import Conflict, Judge, Scorecard
from judging.web.choices import judge_field, wagon_field
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.shows.models import Show
from showrun.shows.web.office_form import OfficeForm

LARGEST_SEED = 2**31 - 1


def name_field(whose: str, *, help_text: str = "") -> forms.CharField:
    """Ask for the name of somebody who takes a part in the show."""
    return forms.CharField(
        label=gettext_lazy("Name"),
        help_text=gettext_lazy(help_text),
        max_length=120,
        error_messages={
            "required": format_lazy(
                gettext_lazy("The {whose}'s name, please."), whose=gettext_lazy(whose)
            )
        },
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


def email_field(whose: str, *, such_as: str, help_text: str = "") -> forms.EmailField:
    """Ask for that person's address."""
    return forms.EmailField(
        label=gettext_lazy("E-mail"),
        help_text=gettext_lazy(help_text),
        max_length=254,
        error_messages={
            "required": format_lazy(
                gettext_lazy("The {whose}'s e-mail address, please."), whose=gettext_lazy(whose)
            ),
            "invalid": format_lazy(
                gettext_lazy("That is not a whole e-mail address, such as {such_as}."),
                such_as=such_as,
            ),
        },
        widget=forms.EmailInput(attrs={"autocomplete": "off"}),
    )


class EngageForm(OfficeForm):
    """Engage a judge: who it is, and for which sections."""

    prefix = "engage"

    name = name_field(N_("judge"), help_text=N_("As it stands on lists and papers."))
    email = email_field(N_("judge"), such_as="judge@example.org")
    code = forms.SlugField(
        label=gettext_lazy("Short name"),
        help_text=gettext_lazy(
            "Used on lists and in the panel, such as J2. Letters, digits and dashes."
        ),
        max_length=20,
        error_messages={
            "required": gettext_lazy("A short name, such as J2."),
            "invalid": gettext_lazy("Letters, digits and dashes only, such as J2."),
        },
    )
    seniority = forms.ChoiceField(
        label=gettext_lazy("Seniority"),
        choices=[("senior", gettext_lazy("senior")), ("novice", gettext_lazy("novice"))],
    )
    sections = forms.MultipleChoiceField(
        label=gettext_lazy("May judge"),
        widget=forms.CheckboxSelectMultiple,
        error_messages={
            "required": gettext_lazy("Choose at least one section this judge may judge.")
        },
    )

    def __init__(self, *args: Any, card: Scorecard, code: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        sections = self.fields["sections"]
        assert isinstance(sections, forms.MultipleChoiceField)
        sections.choices = [(section.code, section.name) for section in card.sections.all()]
        # Most judges may judge everything: what one may not is taken out.
        sections.initial = [code for code, _ in sections.choices]
        self.fields["code"].initial = code


class ConflictForm(OfficeForm):
    """Declare what bars a judge from an entry."""

    prefix = "conflict"

    judge = judge_field()
    entry = wagon_field(gettext_lazy("Entry"))
    kind = forms.ChoiceField(
        label=gettext_lazy("Kind"), choices=[("", gettext_lazy("Choose a kind")), *Conflict.KINDS]
    )
    reason = forms.CharField(
        label=gettext_lazy("Reason"),
        help_text=gettext_lazy(
            "One sentence for the record, such as: his team winters in their stable."
        ),
        max_length=200,
        required=False,
    )

    def __init__(self, *args: Any, show: Show, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["kind"].error_messages["required"] = _("What kind of conflict?")
        judge, entry = self.fields["judge"], self.fields["entry"]
        assert isinstance(judge, forms.ModelChoiceField)
        assert isinstance(entry, forms.ModelChoiceField)
        judge.queryset = Judge.objects.filter(show=show).select_related("person")
        gone = [Status.SCRATCHED.value, Status.PRACTICE.value]
        entry.queryset = Entry.objects.filter(show=show).exclude(status__in=gone)

    def clean(self) -> dict[str, Any]:
        """Ask for the reason where the kind alone says nothing."""
        cleaned: dict[str, Any] = super().clean() or {}
        if cleaned.get("kind") == "other" and not cleaned.get("reason"):
            self.add_error("reason", _("Say what the conflict is."))
        return cleaned


class DrawForm(OfficeForm):
    """The number a panel is drawn with."""

    seed = forms.IntegerField(
        label=gettext_lazy("Seed"),
        help_text=gettext_lazy("Any whole number. The same number draws the same panel again."),
        min_value=0,
        max_value=LARGEST_SEED,
        error_messages={
            "required": gettext_lazy("A whole number, please."),
            "invalid": gettext_lazy("A whole number, please."),
            "min_value": gettext_lazy("Zero or above, please."),
            "max_value": gettext_lazy("A smaller number, please."),
        },
    )


class MendForm(OfficeForm):
    """Why the panel is mended on the day."""

    reason = forms.CharField(
        label=gettext_lazy("Why"),
        help_text=gettext_lazy("For the record, such as: judge J3 fell ill."),
        max_length=200,
        error_messages={"required": gettext_lazy("Say why; exhibitors and judges will ask.")},
    )


class HoursForm(OfficeForm):
    """When judging starts and how long it may take."""

    opens = forms.TimeField(
        label=gettext_lazy("Starts"),
        help_text=gettext_lazy("On the show's clock."),
        widget=forms.TimeInput(format="%H:%M", attrs={"type": "time"}),
        error_messages={
            "required": gettext_lazy("When does judging start?"),
            "invalid": gettext_lazy("A time such as 07:44, please."),
        },
    )
    minutes = forms.IntegerField(
        label=gettext_lazy("Minutes"),
        help_text=gettext_lazy("From the first walk to the last visit's end."),
        min_value=1,
        max_value=24 * 60,
        error_messages={
            "required": gettext_lazy("How many minutes?"),
            "invalid": gettext_lazy("A whole number of minutes, please."),
            "min_value": gettext_lazy("At least a minute, please."),
            "max_value": gettext_lazy("At most a day, please."),
        },
    )


class RigForm(OfficeForm):
    """The facts of a rig to look at the card with; each may be left open."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, kind in FACTS.items():
            choices = [("", _("any")), *((member.value, _(WORDS[member.value])) for member in kind)]
            self.fields[name] = forms.ChoiceField(
                label=_(WORDS[name]), choices=choices, required=False
            )

    @property
    def facts(self) -> dict[str, str]:
        """The facts chosen; what the form does not know counts as left open."""
        self.is_valid()
        return {name: value for name, value in self.cleaned_data.items() if value}
