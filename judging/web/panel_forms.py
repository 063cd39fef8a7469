"""What the office types about the panel: its rules, and seats set by hand."""

from __future__ import annotations

from typing import Any

from django import forms

from entries.models import Entry
from judging.models import Judge, PanelRules, Section
from showrun.shows.models import Show
from showrun.shows.web.office_form import OfficeForm


class RulesForm(OfficeForm):
    """The rules of the whole panel."""

    prefix = "rules"

    novices_beside_seniors = forms.BooleanField(
        label="Novices sit only beside a senior",
        help_text="Each section of a wagon that a novice looks at is looked at by a senior too.",
        required=False,
    )
    balance_by = forms.ChoiceField(
        label="Make equal",
        choices=PanelRules.BALANCES,
        help_text="Minutes where sections differ much in length.",
    )
    max_seats = forms.IntegerField(
        label="Most seats a judge",
        help_text="For judges without a limit of their own. Empty: no limit.",
        required=False,
        min_value=1,
        max_value=100_000,
        error_messages={
            "invalid": "A whole number, or nothing.",
            "min_value": "At least one, or nothing for no limit.",
            "max_value": "A smaller number, please.",
        },
    )


class PinForm(OfficeForm):
    """A seat set by hand."""

    prefix = "pin"

    judge = forms.ModelChoiceField(
        Judge.objects.none(),
        label="Judge",
        empty_label="Choose a judge",
        error_messages={"required": "Which judge?", "invalid_choice": "Choose a judge."},
    )
    must = forms.ChoiceField(
        label="What",
        choices=[("yes", "must sit"), ("no", "must not sit")],
        error_messages={"required": "Must, or must not?", "invalid_choice": "Choose one."},
    )
    entry = forms.ModelChoiceField(
        Entry.objects.none(),
        label="At",
        empty_label="Choose an entry",
        error_messages={"required": "Which entry?", "invalid_choice": "Choose an entry."},
    )
    section = forms.ModelChoiceField(
        Section.objects.none(),
        label="Section",
        required=False,
        empty_label="every section they may judge",
        error_messages={"invalid_choice": "Choose a section."},
    )
    why = forms.CharField(
        label="Why",
        help_text="One sentence for the record, such as: asked for by the harness committee.",
        max_length=200,
        error_messages={"required": "Say why; judges and exhibitors will ask."},
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
