"""The form by which the office declares how a class is judged."""

from __future__ import annotations

from typing import Any

from django import forms

from judging.actions.declare_class import FIRST_YEAR, LAST_YEAR, LONGEST_NOTE, MOST_JUDGES
from judging.models import ClassCard, Scorecard
from judging.models.scorecard import METHODS
from judging.rules.cards.policies import (
    GearCredit,
    Marking,
    ModernItems,
    Policies,
    in_words,
)
from judging.rules.cards.scorecard import NotInspected
from judging.web.setup_forms import OfficeForm

RUNGS = 4
# Where each policy's sentence stands among those of a class without a period.
_MARKING, _GEAR, _MODERN, _UNSEEN = 0, 1, 2, 4


def _year(label: str) -> forms.IntegerField:
    return forms.IntegerField(
        label=label,
        required=False,
        min_value=FIRST_YEAR,
        max_value=LAST_YEAR,
        error_messages={
            "invalid": "A year, please, such as 1880.",
            "min_value": f"A year from {FIRST_YEAR} to {LAST_YEAR}, please.",
            "max_value": f"A year from {FIRST_YEAR} to {LAST_YEAR}, please.",
        },
    )


class DeclareForm(OfficeForm):
    """Sections, method, judges, ties and policies of one class."""

    prefix = "class"

    sections = forms.MultipleChoiceField(
        label="Sections it counts",
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose at least one section."},
    )
    method = forms.ChoiceField(label="Total", choices=list(METHODS))
    judges_per_section = forms.IntegerField(
        label="Judges for each section",
        help_text="Every class that counts the same section asks for the same number.",
        min_value=1,
        max_value=MOST_JUDGES,
        initial=3,
        error_messages={
            "required": "How many judges?",
            "invalid": "A whole number, please.",
            "min_value": "At least one, please.",
            "max_value": f"At most {MOST_JUDGES}, please.",
        },
    )
    announced_points = forms.DecimalField(
        label="Points in the rules",
        help_text="What one judge can give in all, if your rules print it. The check compares.",
        min_value=0,
        max_digits=8,
        decimal_places=2,
        required=False,
        error_messages={
            "invalid": "A number, please, such as 100.",
            "min_value": "Not below zero, please.",
            "max_decimal_places": "Two decimals at most, please.",
        },
    )
    marking = forms.ChoiceField(
        label="Where marks start",
        widget=forms.RadioSelect,
        choices=[(m.value, in_words(Policies(marking=m))[_MARKING]) for m in Marking],
        initial=Marking.BUILD_FROM_MIDDLE.value,
    )
    gear_credit = forms.ChoiceField(
        label="Original, restored and new gear",
        widget=forms.RadioSelect,
        choices=[(g.value, in_words(Policies(gear_credit=g))[_GEAR]) for g in GearCredit],
        initial=GearCredit.ALIKE.value,
    )
    modern_items = forms.ChoiceField(
        label="Modern items",
        widget=forms.RadioSelect,
        choices=[(m.value, in_words(Policies(modern_items=m))[_MODERN]) for m in ModernItems],
        initial=ModernItems.LOSES.value,
    )
    period_from = _year("In period: first year")
    period_to = _year("In period: last year")
    not_inspected = forms.ChoiceField(
        label="Could not be inspected",
        widget=forms.RadioSelect,
        choices=[(n.value, in_words(Policies(not_inspected=n))[_UNSEEN]) for n in NotInspected],
        initial=NotInspected.RESCALE.value,
    )
    note = forms.CharField(
        label="Anything else",
        help_text="Judges read it before the first wagon, exhibitors on their sheet.",
        max_length=LONGEST_NOTE,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3, "dir": "auto"}),
    )

    def __init__(self, *args: Any, card: Scorecard, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [(section.code, section.name) for section in card.sections.all()]
        sections = self.fields["sections"]
        assert isinstance(sections, forms.MultipleChoiceField)
        sections.choices = [
            (one.code, f"{one.name}, {one.points.normalize():f} points")
            for one in card.sections.all()
        ]
        for rung in range(1, RUNGS + 1):
            self.fields[f"rung_{rung}"] = forms.ChoiceField(
                label="First by" if rung == 1 else "Then by",
                choices=[("", "nothing more"), *choices],
                required=False,
            )

    @property
    def rungs(self) -> list[Any]:
        """The fields of the tie ladder, from the top."""
        return [self[f"rung_{rung}"] for rung in range(1, RUNGS + 1)]

    @property
    def policies(self) -> Policies:
        """The policies as they were sent."""
        given = self.cleaned_data
        return Policies(
            gear_credit=GearCredit(given["gear_credit"]),
            marking=Marking(given["marking"]),
            modern_items=ModernItems(given["modern_items"]),
            period_from=given["period_from"],
            period_to=given["period_to"],
            not_inspected=NotInspected(given["not_inspected"]),
            note=given["note"],
        )

    @property
    def declared(self) -> dict[str, Any]:
        """What the action takes."""
        given = self.cleaned_data
        rungs = (given[f"rung_{rung}"] for rung in range(1, RUNGS + 1))
        return {
            "sections": given["sections"],
            "method": given["method"],
            "judges_per_section": given["judges_per_section"],
            "tie_ladder": [code for code in rungs if code],
            "announced_points": given["announced_points"],
            "policies": self.policies,
        }


def shown_class(card: ClassCard | None) -> dict[str, Any]:
    """Return what the form shows of a class declared before."""
    if card is None:
        return {}
    rungs = {f"rung_{n}": code for n, code in enumerate(card.tie_ladder, start=1)}
    return {
        "sections": [section.code for section in card.sections.all()],
        "method": card.method,
        "judges_per_section": card.judges_per_section,
        "announced_points": card.announced_points,
        "marking": card.marking,
        "gear_credit": card.gear_credit,
        "modern_items": card.modern_items,
        "period_from": card.period_from,
        "period_to": card.period_to,
        "not_inspected": card.not_inspected,
        "note": card.policy_note,
        **rungs,
    }
