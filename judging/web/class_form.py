"""The form by which the office declares how a class is judged."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING, Any, NamedTuple

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy

from entries.rules.money_words import dollars
from judging.actions.declare_class import (
    FIRST_YEAR,
    LARGEST_PURSE,
    LAST_YEAR,
    LONGEST_NOTE,
    LONGEST_QUERY,
    MOST_JUDGES,
    QUERY_MINUTES,
)
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
from judging.rules.results.declared import (
    Rung,
    ladder_in_words,
    purse_shown,
    read_shares,
)
from judging.rules.results.methods import WHEN
from showrun.language import gettext as _
from showrun.shows.web.office_form import OfficeForm

if TYPE_CHECKING:
    from django.utils.functional import _StrPromise

FEWEST_RUNGS, MOST_RUNGS = 4, 8
# Where each policy's sentence stands among those of a class without a period.
_MARKING, _GEAR, _MODERN, _UNSEEN = 0, 1, 2, 4


def _year(label: _StrPromise) -> forms.IntegerField:
    return forms.IntegerField(
        label=label,
        required=False,
        min_value=FIRST_YEAR,
        max_value=LAST_YEAR,
        error_messages={
            "invalid": gettext_lazy("A year, please, such as 1880."),
            "min_value": format_lazy(
                gettext_lazy("A year from {first} to {last}, please."),
                first=FIRST_YEAR,
                last=LAST_YEAR,
            ),
            "max_value": format_lazy(
                gettext_lazy("A year from {first} to {last}, please."),
                first=FIRST_YEAR,
                last=LAST_YEAR,
            ),
        },
    )


class Looked(NamedTuple):
    """What a class's ladder can decide, and what its purse would pay, line by line."""

    rungs: list[Rung]
    purse: list[str]


def _purse_lines(cents: int, shares: list[str]) -> list[str]:
    shown = purse_shown(cents, shares)
    lines = [
        _("Place {n}: {prize}").format(n=n, prize=dollars(prize))
        for n, prize in enumerate(shown.prizes, start=1)
    ]
    one, other = shown.level_for_first
    if one == other:
        level = _("Two wagons level for first: {prize} each").format(prize=dollars(one))
    else:
        level = _("Two wagons level for first: {prize} and {other}").format(
            prize=dollars(one), other=dollars(other)
        )
    return [*lines, level]


class DeclareForm(OfficeForm):
    """Sections, method, judges, ties and policies of one class."""

    prefix = "class"

    sections = forms.MultipleChoiceField(
        label=gettext_lazy("Sections it counts"),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": gettext_lazy("Choose at least one section.")},
    )
    method = forms.ChoiceField(
        label=gettext_lazy("Total"),
        widget=forms.RadioSelect,
        choices=[
            (name, format_lazy("{words}. {when}", words=words, when=gettext_lazy(WHEN[name])))
            for name, words in METHODS
        ],
        initial="plain",
        error_messages={"required": gettext_lazy("Choose how the total is made.")},
    )
    judges_per_section = forms.IntegerField(
        label=gettext_lazy("Judges for each section"),
        help_text=gettext_lazy(
            "Every class that counts the same section asks for the same number."
        ),
        min_value=1,
        max_value=MOST_JUDGES,
        initial=3,
        error_messages={
            "required": gettext_lazy("How many judges?"),
            "invalid": gettext_lazy("A whole number, please."),
            "min_value": gettext_lazy("At least one, please."),
            "max_value": format_lazy(gettext_lazy("At most {most}, please."), most=MOST_JUDGES),
        },
    )
    announced_points = forms.DecimalField(
        label=gettext_lazy("Points in the rules"),
        help_text=gettext_lazy(
            "What one judge can give in all, if your rules print it. The check compares."
        ),
        min_value=0,
        max_digits=8,
        decimal_places=2,
        required=False,
        error_messages={
            "invalid": gettext_lazy("A number, please, such as 100."),
            "min_value": gettext_lazy("Not below zero, please."),
            "max_decimal_places": gettext_lazy("Two decimals at most, please."),
        },
    )
    marking = forms.ChoiceField(
        label=gettext_lazy("Where marks start"),
        widget=forms.RadioSelect,
        choices=[(m.value, in_words(Policies(marking=m))[_MARKING]) for m in Marking],
        initial=Marking.BUILD_FROM_MIDDLE.value,
    )
    gear_credit = forms.ChoiceField(
        label=gettext_lazy("Original, restored and new gear"),
        widget=forms.RadioSelect,
        choices=[(g.value, in_words(Policies(gear_credit=g))[_GEAR]) for g in GearCredit],
        initial=GearCredit.ALIKE.value,
    )
    modern_items = forms.ChoiceField(
        label=gettext_lazy("Modern items"),
        widget=forms.RadioSelect,
        choices=[(m.value, in_words(Policies(modern_items=m))[_MODERN]) for m in ModernItems],
        initial=ModernItems.LOSES.value,
    )
    period_from = _year(gettext_lazy("In period: first year"))
    period_to = _year(gettext_lazy("In period: last year"))
    not_inspected = forms.ChoiceField(
        label=gettext_lazy("Could not be inspected"),
        widget=forms.RadioSelect,
        choices=[(n.value, in_words(Policies(not_inspected=n))[_UNSEEN]) for n in NotInspected],
        initial=NotInspected.RESCALE.value,
    )
    purse = forms.DecimalField(
        label=gettext_lazy("Purse"),
        help_text=gettext_lazy(
            "In dollars, such as 1500 or 1500.50. Leave it empty where there is none."
        ),
        min_value=0,
        max_value=LARGEST_PURSE // 100,
        decimal_places=2,
        required=False,
        error_messages={
            "invalid": gettext_lazy("An amount in dollars, please, such as 1500.50."),
            "min_value": gettext_lazy("Not below zero, please."),
            "max_value": format_lazy(
                gettext_lazy("At most {most}, please."), most=dollars(LARGEST_PURSE)
            ),
            "max_decimal_places": gettext_lazy("To the cent, please."),
        },
    )
    purse_weights = forms.CharField(
        label=gettext_lazy("Shares of the places"),
        help_text=gettext_lazy(
            "First place first, such as 50, 30, 20. Only their proportions count."
        ),
        max_length=400,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    query_minutes = forms.IntegerField(
        label=gettext_lazy("Minutes for a query"),
        help_text=format_lazy(
            gettext_lazy(
                "How long after release an exhibitor may put one: 0 for none, {most} if left empty."
            ),
            most=QUERY_MINUTES,
        ),
        required=False,
        min_value=0,
        max_value=LONGEST_QUERY,
        initial=QUERY_MINUTES,
        error_messages={
            "invalid": gettext_lazy("A whole number, please."),
            "min_value": gettext_lazy("Not below zero, please."),
            "max_value": format_lazy(gettext_lazy("At most {most}, please."), most=LONGEST_QUERY),
        },
    )
    note = forms.CharField(
        label=gettext_lazy("Anything else"),
        help_text=gettext_lazy("Judges read it before the first wagon, exhibitors on their sheet."),
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
        self._names = dict(choices)
        self._n_rungs = min(max(FEWEST_RUNGS, len(choices)), MOST_RUNGS)
        for rung in range(1, self._n_rungs + 1):
            self.fields[f"rung_{rung}"] = forms.ChoiceField(
                label="First by" if rung == 1 else "Then by",
                choices=[("", "nothing more"), *choices],
                required=False,
            )

    @property
    def rungs(self) -> list[Any]:
        """The fields of the tie ladder, from the top."""
        return [self[f"rung_{rung}"] for rung in range(1, self._n_rungs + 1)]

    def clean_purse_weights(self) -> list[str]:
        """Return the shares one by one."""
        try:
            return read_shares(self.cleaned_data["purse_weights"])
        except ValueError as fault:
            raise forms.ValidationError(str(fault)) from fault

    def clean_purse(self) -> int:
        """Return the purse in cents."""
        return int((self.cleaned_data["purse"] or 0) * 100)

    @property
    def looks_ahead(self) -> Looked:
        """What the ladder can decide and the purse would pay, as the form stands."""
        given = self.cleaned_data if self.is_bound and self.is_valid() else {}
        if given:
            declared = self.declared
            ladder, sections = declared["tie_ladder"], declared["sections"]
            cents, shares = declared["purse_cents"], declared["purse_weights"]
        else:
            kept = self.initial
            rungs = (kept.get(f"rung_{rung}") for rung in range(1, self._n_rungs + 1))
            ladder, sections = [code for code in rungs if code], kept.get("sections", [])
            cents = int((kept.get("purse") or 0) * 100)
            shares = read_shares(kept.get("purse_weights", ""))
        names = {code: name for code, name in self._names.items() if code in sections}
        sound = len(set(ladder)) == len(ladder) and set(ladder) <= names.keys()
        return Looked(
            rungs=ladder_in_words(ladder, names) if sound else [],
            purse=_purse_lines(cents, shares) if cents and shares else [],
        )

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
        rungs = (given[f"rung_{rung}"] for rung in range(1, self._n_rungs + 1))
        minutes = given["query_minutes"]
        return {
            "sections": given["sections"],
            "method": given["method"],
            "judges_per_section": given["judges_per_section"],
            "tie_ladder": [code for code in rungs if code],
            "announced_points": given["announced_points"],
            "policies": self.policies,
            "purse_cents": given["purse"],
            "purse_weights": given["purse_weights"],
            "query_minutes": QUERY_MINUTES if minutes is None else minutes,
        }


def every_section(card: Scorecard) -> dict[str, Any]:
    """What the form shows for a class nothing is declared for: it counts the whole card."""
    return {"sections": [section.code for section in card.sections.all()]}


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
        "purse": Decimal(card.purse_cents) / 100 if card.purse_cents else None,
        "purse_weights": ", ".join(card.purse_weights),
        "query_minutes": card.query_minutes,
        **rungs,
    }
