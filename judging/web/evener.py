"""The evener helper's page: arms from strengths, shares from arms, three abreast."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from django import forms
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from judging.rules.handbook.evener import (
    CAUTIONS,
    Evener,
    arms_of_strengths,
    shares_of_arms,
    three_abreast,
)
from judging.rules.handbook.lengths import (
    LONGEST_TEXT,
    in_feet,
    in_inches,
    read_length,
    read_number,
    to_mm,
)
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.shows.web.office_form import OfficeForm

UNITS = (("in", gettext_lazy("feet and inches")), ("cm", gettext_lazy("centimeters")))
ANIMAL = (N_("First animal"), N_("Second animal"))
PAIR = (N_("The pair"), N_("The single animal"))
# The drawing: the bar runs from LEFT to RIGHT, 640 units wide.
LEFT, RIGHT = 60, 580


class AskForm(OfficeForm):
    """What every question about an evener has: the unit of a bare number."""

    asks = ""
    names = ANIMAL

    def __init__(self, data: QueryDict | None = None) -> None:
        super().__init__(data, auto_id=f"{self.asks}_%s")
        self.fields["unit"] = forms.ChoiceField(
            label=_("A number without a unit is"), choices=UNITS, required=False
        )

    def clean(self) -> dict[str, object]:
        """Read the texts as numbers, then ask the rule."""
        metric = self.cleaned_data.get("unit") == "cm"
        found: dict[str, Fraction] = {}
        for name in self.fields:
            if name == "unit":
                continue
            try:
                text = str(self.cleaned_data.get(name) or "")
                length = name not in ("one", "two")
                found[name] = read_length(text, metric=metric) if length else read_number(text)
            except ValueError as fault:
                self.add_error(name, str(fault))
        if not self.errors:
            try:
                return {"evener": self.ask(found)}
            except ValueError as fault:
                self.add_error(None, str(fault))
        return {}

    def ask(self, found: dict[str, Fraction]) -> Evener:
        """Ask the rule with what was read."""
        raise NotImplementedError


def _text(label: str, hint: str = "") -> forms.CharField:
    widget = forms.TextInput(attrs={"autocomplete": "off", "maxlength": LONGEST_TEXT})
    return forms.CharField(
        label=gettext_lazy(label), help_text=gettext_lazy(hint), required=False, widget=widget
    )


class StrengthsForm(AskForm):
    """Where the middle hole goes for two strengths."""

    asks = "arms"
    bar = _text(
        N_("Bar, outer hole to outer hole"),
        N_("4 ft 0 in, 48, 48 1/2 in, 122 cm"),
    )
    one = _text(
        N_("Strength of the first animal"),
        N_("Any unit for both: 4 and 3, or their weights"),
    )
    two = _text(N_("Strength of the second animal"))

    def ask(self, found: dict[str, Fraction]) -> Evener:
        """Arms from strengths."""
        return arms_of_strengths(found["bar"], found["one"], found["two"])


class ArmsForm(AskForm):
    """What each pulls on a bar there is."""

    asks = "shares"
    arm_one = _text(N_("Middle hole to the first animal's hole"), N_("2 ft 6 in, 30, 76 cm"))
    arm_two = _text(N_("Middle hole to the second animal's hole"))

    def ask(self, found: dict[str, Fraction]) -> Evener:
        """Shares from arms."""
        return shares_of_arms(found["arm_one"], found["arm_two"])


class ThreeForm(AskForm):
    """Where the middle hole goes for three abreast."""

    asks = "three"
    names = PAIR
    bar = _text(N_("Bar, outer hole to outer hole"), N_("3 ft 0 in, 36, 91 cm"))

    def ask(self, found: dict[str, Fraction]) -> Evener:
        """A third and two thirds."""
        return three_abreast(found["bar"])


ASKS: dict[str, type[AskForm]] = {form.asks: form for form in (StrengthsForm, ArmsForm, ThreeForm)}


@dataclass(frozen=True)
class Side:
    """One side of the bar, in words."""

    name: str
    arm: str
    arm_feet: str
    arm_mm: int
    share: str
    bored_share: str


@dataclass(frozen=True)
class Answer:
    """An evener in words, with where its holes stand in the drawing."""

    sides: tuple[Side, Side]
    bar: str
    bar_feet: str
    bar_mm: int
    rounded: bool
    middle: int
    half_one: int
    half_two: int
    left: int = LEFT
    right: int = RIGHT


def answer_of(found: Evener, names: tuple[str, str]) -> Answer:
    """Say an evener in words, and place its holes to scale."""
    bored = found.bored()
    arms = (bored.arm_one, bored.arm_two)
    bar_mm, first_mm = to_mm(found.bar), to_mm(found.arm_one)
    metric = (first_mm, bar_mm - first_mm)
    sides = [
        Side(_(name), in_inches(arm), in_feet(arm), mm, _percent(share), _percent(real))
        for name, arm, mm, share, real in zip(
            names, arms, metric, found.shares, bored.shares, strict=True
        )
    ]
    middle = LEFT + round((RIGHT - LEFT) * bored.arm_one / bored.bar)
    return Answer(
        sides=(sides[0], sides[1]),
        bar=in_inches(bored.bar),
        bar_feet=in_feet(bored.bar),
        bar_mm=bar_mm,
        rounded=bored != found,
        middle=middle,
        half_one=(LEFT + middle) // 2,
        half_two=(middle + RIGHT) // 2,
    )


def _percent(share: Fraction) -> str:
    """A share as a percentage with one decimal, or as the plain fraction it is."""
    tenths = (share * 1000 + Fraction(1, 2)).__floor__()
    words = f"{tenths // 10}.{tenths % 10} %"
    return f"{share} ({words})" if share.denominator <= 16 else words


@require_safe
def evener_page(request: HttpRequest) -> HttpResponse:
    """Answer the question asked in the address, or show the three that can be asked."""
    asked = request.GET.get("ask", "")
    sent = {name: form(request.GET if name == asked else None) for name, form in ASKS.items()}
    form = sent.get(asked)
    found = form.cleaned_data.get("evener") if form and form.is_valid() else None
    context = {
        "forms": sent,
        "form": form,
        "asked": asked if form else "",
        "answer": answer_of(found, form.names) if form and found else None,
        "cautions": CAUTIONS,
    }
    return render(request, "judging/evener.html", context)
