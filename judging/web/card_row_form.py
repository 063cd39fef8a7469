"""The form of one row: what it is, which marks it takes, and on which rigs it is judged."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.forms.boundfield import BoundField
from django.utils.translation import gettext_lazy

from entries.rules.rig import FACTS, WORDS
from judging.models import Criterion, Section
from judging.queries.library import handbook
from judging.rules.cards.card_file import LONGEST
from judging.rules.cards.condition import Condition, check
from judging.rules.cards.scorecard import Form
from judging.web.card_forms import plain
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.shows.web.office_form import OfficeForm

FEWEST_BRANCHES = 3
DANGER_WORDS = {
    "": gettext_lazy("No grade: score only"),
    "A": gettext_lazy("A: do not move the team"),
    "B": gettext_lazy("B: mend before moving"),
    "C": gettext_lazy("C: score only"),
}


@dataclass(frozen=True)
class Branch:
    """One of the rigs, or kinds of rig, that a row is judged on."""

    number: int
    facts: list[BoundField]

    @property
    def used(self) -> bool:
        """Whether anything is ticked in it."""
        return any(field.value() for field in self.facts)


@dataclass(frozen=True)
class PartGroup:
    """The parts of one group of the handbook, with those the row names."""

    name: str
    parts: list[tuple[str, str, bool]]  # code, name, chosen

    @property
    def chosen(self) -> int:
        """How many of them the row names."""
        return sum(chosen for _, _, chosen in self.parts)


def _number(label: str, initial: int, missing: str, help_text: str = "") -> forms.DecimalField:
    return forms.DecimalField(
        label=gettext_lazy(label),
        help_text=gettext_lazy(help_text) if help_text else "",
        min_value=0,
        max_digits=5,
        decimal_places=2,
        initial=initial,
        error_messages={
            "required": gettext_lazy(missing),
            "invalid": gettext_lazy("A number, please."),
        },
    )


class RowForm(OfficeForm):
    """One row of the card."""

    prefix = "row"

    name = forms.CharField(
        label=gettext_lazy("Name"),
        help_text=gettext_lazy("What the judge looks at, in a few words."),
        max_length=80,
        error_messages={"required": gettext_lazy("A name for the row, please.")},
        widget=forms.TextInput(attrs={"autocomplete": "off", "dir": "auto"}),
    )
    code = forms.SlugField(
        label=gettext_lazy("Code"),
        help_text=gettext_lazy(
            "Made from the name if you leave it empty. Marks are kept by it from one version of "
            "the card to the next."
        ),
        max_length=50,
        required=False,
        error_messages={"invalid": gettext_lazy("Letters, digits, dashes and low lines only.")},
    )
    section = forms.ChoiceField(label=gettext_lazy("Section"))
    guidance = forms.CharField(
        label=gettext_lazy("What to look for"),
        help_text=gettext_lazy("One tap away on the phone, and on the exhibitor's page."),
        max_length=LONGEST["guidance"],
        required=False,
        widget=forms.Textarea(attrs={"rows": 4, "dir": "auto"}),
    )
    danger = forms.ChoiceField(
        label=gettext_lazy("If it fails"),
        help_text=gettext_lazy(
            "Shown beside the row. It changes no points; a judge raises a safety concern."
        ),
        required=False,
        choices=list(DANGER_WORDS.items()),
    )
    max_mark = _number(N_("Most marks"), 10, N_("How many marks at most?"))
    step = _number(N_("In steps of"), 1, N_("In which steps?"))
    weight = _number(
        N_("Counts"),
        1,
        N_("How often does it count?"),
        help_text=N_("1 is once, 2 is twice."),
    )
    one_of = forms.SlugField(
        label=gettext_lazy("Stands in for"),
        help_text=gettext_lazy(
            "A word that rows share which are the same thing on different rigs, such as holdback. "
            "On no rig may two of them apply. Usually empty."
        ),
        max_length=50,
        required=False,
        error_messages={"invalid": gettext_lazy("Letters, digits, dashes and low lines only.")},
    )
    parts = forms.MultipleChoiceField(
        label=gettext_lazy("Parts of the handbook"),
        required=False,
        error_messages={"invalid_choice": gettext_lazy("The handbook has no such part.")},
    )

    def __init__(
        self, *args: Any, section: Section, sections: Sequence[Section], **kwargs: Any
    ) -> None:
        given: Condition = kwargs.pop("applies", None) or {}
        branches = [given] if isinstance(given, Mapping) else list(given)
        kwargs["initial"] = {
            "section": section.pk,
            **kwargs.get("initial", {}),
            **{
                f"b{n}_{fact}": values
                for n, branch in enumerate(branches)
                for fact, values in branch.items()
            },
        }
        super().__init__(*args, **kwargs)
        self.counted = section.form == Form.POINTS
        if not self.counted:
            for name in ("max_mark", "step"):
                del self.fields[name]
        chosen, parts = self.fields["section"], self.fields["parts"]
        assert isinstance(chosen, forms.ChoiceField)
        assert isinstance(parts, forms.MultipleChoiceField)
        chosen.choices = [(one.pk, one.name) for one in sections]
        parts.choices = [(code, part.name) for code, part in handbook().items()]
        self.n_branches = max(FEWEST_BRANCHES, len(branches) + 1)
        for n in range(self.n_branches):
            for fact, kind in FACTS.items():
                self.fields[f"b{n}_{fact}"] = forms.MultipleChoiceField(
                    label=_(WORDS[fact]),
                    required=False,
                    choices=[(member.value, _(WORDS[member.value])) for member in kind],
                    widget=forms.CheckboxSelectMultiple,
                )

    @property
    def branches(self) -> list[Branch]:
        """The alternatives, each with a field a fact."""
        return [
            Branch(n + 1, [self[f"b{n}_{fact}"] for fact in FACTS]) for n in range(self.n_branches)
        ]

    @property
    def part_groups(self) -> list[PartGroup]:
        """The handbook's parts by group, with those chosen ticked."""
        chosen = set(self["parts"].value() or ())
        groups: dict[str, list[tuple[str, str, bool]]] = {}
        for code, part in handbook().items():
            groups.setdefault(part.group, []).append((code, part.name, code in chosen))
        return [PartGroup(name, parts) for name, parts in groups.items()]

    def clean(self) -> dict[str, Any]:
        """Put the ticks together to the row's condition."""
        cleaned: dict[str, Any] = super().clean() or {}
        branches = []
        for n in range(self.n_branches):
            ticks = {fact: cleaned.get(f"b{n}_{fact}") or [] for fact in FACTS}
            if any(ticks.values()):
                branches.append({fact: values for fact, values in ticks.items() if values})
        condition: Condition = branches if len(branches) > 1 else (branches or [{}])[0]
        try:
            check(condition)
        except ValueError as fault:
            self.add_error("b0_tongue", str(fault))
        cleaned["applies"] = condition
        return cleaned

    @property
    def row_fields(self) -> dict[str, Any]:
        """What the actions take as a row."""
        names = ("name", "code", "guidance", "danger", "max_mark", "step", "weight", "one_of",
                 "parts", "applies")  # fmt: skip
        return {name: self.cleaned_data[name] for name in names if name in self.cleaned_data}


def shown_row(row: Criterion) -> dict[str, Any]:
    """Return what the form shows of a row, its condition apart."""
    return {
        "name": row.name,
        "code": row.code,
        "section": row.section_id,
        "guidance": row.guidance,
        "danger": row.danger,
        "max_mark": plain(row.max_mark),
        "step": plain(row.step),
        "weight": plain(row.weight),
        "one_of": row.one_of,
        "parts": list(row.parts),
    }
