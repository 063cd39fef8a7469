"""`/house-style/`: how pages look, made of the pieces the pages are made of; no show is in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from judging.rules.results.places_chart import PlaceLine, places_chart
from showrun.project.house_style.tokens import PAIRS, THEMES, Measured, measured, tokens_of
from showrun.shows.rules.contrast import BORDER_RATIO, SUN_RATIO, TEXT_RATIO
from showrun.shows.web.office_form import OfficeForm

FAULTY = {"wagon": "", "length_ft": "-3", "rig": "", "note": "Late on Friday."}


class SampleForm(OfficeForm):
    """One field of each kind, as an office page asks."""

    wagon = forms.CharField(
        help_text="As it should be read out.",
        error_messages={"required": "A name for the wagon, please."},
    )
    length_ft = forms.IntegerField(
        label="Length [ft]",
        min_value=1,
        error_messages={"min_value": "A length above nothing, please."},
    )
    rig = forms.ChoiceField(
        label="Tongue",
        choices=[("drop", "drop tongue"), ("stiff", "stiff tongue")],
        widget=forms.RadioSelect,
        error_messages={"required": "Choose one of the two."},
    )
    note = forms.CharField(required=False, widget=forms.Textarea(attrs={"rows": 2}))


@dataclass(frozen=True)
class Shown:
    """A colour token with what it is in the theme that is looked at."""

    name: str
    colour: str


def _groups(theme: str) -> list[tuple[str, list[Measured]]]:
    """Every pair in the theme: texts by their ground, then borders."""
    every = [measured(pair, theme) for pair in PAIRS]
    texts = [one for one in every if not one.pair.border]
    return [
        ("Text on paper", [one for one in texts if one.pair.ground == "paper"]),
        ("Text on a sheet", [one for one in texts if one.pair.ground == "sheet"]),
        ("Text in messages", [one for one in texts if one.pair.ground.endswith(" tint")]),
        (
            "Text on colour",
            [
                one
                for one in texts
                if one.pair.ground not in ("paper", "sheet")
                and not one.pair.ground.endswith(" tint")
            ],
        ),
        ("Borders, rings and meters", [one for one in every if one.pair.border]),
    ]


@require_safe
def house_style(request: HttpRequest) -> HttpResponse:
    """Show every token and piece in the theme asked for, or in the reader's own."""
    asked = request.GET.get("theme", "")
    theme = asked if asked in THEMES else "light"
    tokens = tokens_of(theme)
    context: dict[str, Any] = {
        "asked": asked if asked in THEMES else "",
        "theme": theme,
        "themes": THEMES,
        "colours": [Shown(n, v) for n, v in tokens.items() if v.startswith("#")],
        "measures": [(n, v) for n, v in tokens.items() if v.endswith("px")],
        "faces": [(n, v) for n, v in tokens.items() if n in ("slab", "sans")],
        "groups": _groups(theme),
        "wanted": {"text": TEXT_RATIO, "border": BORDER_RATIO, "sun": SUN_RATIO},
        "form": SampleForm(auto_id="plain_%s"),
        "faulty": SampleForm(FAULTY, auto_id="faulty_%s"),
        "chart": places_chart(
            [
                PlaceLine(4, "Quiet Anvil", 1, (1, 2)),
                PlaceLine(7, "Tin Lantern", 2, (1, 3)),
                PlaceLine(9, "Copper Moth", 3, (2, 3), (2, 3)),
            ]
        ),
    }
    return render(request, "house_style.html", context)
