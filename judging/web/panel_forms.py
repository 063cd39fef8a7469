"""What the office types about the panel: its rules, and seats set by hand."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from entries.models import Entry
from judging.models import Judge, PanelRules, Section
from judging.web.choices import judge_field, wagon_field
from showrun.shows.models import Show
from showrun.shows.web.office_form import OfficeForm


class RulesForm(OfficeForm):
    """The rules of the whole panel."""

    prefix = "rules"

    novices_beside_seniors = forms.BooleanField(
        label=gettext_lazy("Novices sit only beside a senior"),
        help_text=gettext_lazy(
            "Each section of a wagon that a novice looks at is looked at by a senior too."
        ),
        required=False,
    )
    balance_by = forms.ChoiceField(
        label=gettext_lazy("Make equal"),
        choices=PanelRules.BALANCES,
        help_text=gettext_lazy("Minutes where sections differ much in length."),
    )
    max_seats = forms.IntegerField(
        label=gettext_lazy("Most seats a judge"),
        help_text=gettext_lazy("For judges without a limit of their own. Empty: no limit."),
        required=False,
        min_value=1,
        max_value=100_000,
        error_messages={
            "invalid": gettext_lazy("A whole number, or nothing."),
            "min_value": gettext_lazy("At least one, or nothing for no limit."),
            "max_value": gettext_lazy("A smaller number, please."),
        },
    )


class PinForm(OfficeForm):
    """A seat set by hand."""

    prefix = "pin"

    judge = judge_field()
    must = forms.ChoiceField(
        label=gettext_lazy("What"),
        choices=[("yes", gettext_lazy("must sit")), ("no", gettext_lazy("must not sit"))],
        error_messages={
            "required": gettext_lazy("Must, or must not?"),
            "invalid_choice": gettext_lazy("Choose one."),
        },
    )
    entry = wagon_field(gettext_lazy("At"))
    section = forms.ModelChoiceField(
        Section.objects.none(),
        label=gettext_lazy("Section"),
        required=False,
        empty_label=gettext_lazy("every section they may judge"),
        error_messages={"invalid_choice": gettext_lazy("Choose a section.")},
    )
    why = forms.CharField(
        label=gettext_lazy("Why"),
        help_text=gettext_lazy(
            "One sentence for the record, such as: asked for by the harness committee."
        ),
        max_length=200,
        error_messages={"required": gettext_lazy("Say why; judges and exhibitors will ask.")},
    )

    def __init__(self, *args: Any, show: Show, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows = {
            "judge": Judge.objects.filter(show=show, left_at=None).select_related("person"),
            "entry": Entry.objects.confirmed().filter(show=show),
            "section": Section.objects.filter(scorecard__show=show, scorecard__in_use=True),
        }
        for name, queryset in rows.items():
            field = self.fields[name]
            assert isinstance(field, forms.ModelChoiceField)
            field.queryset = queryset
