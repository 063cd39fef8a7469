"""What the office types while it builds a card: the card, its sections, and files."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext_lazy

from judging.models import Section
from judging.rules.cards.card_file import LONGEST, MOST_PHRASES
from judging.rules.cards.scorecard import Form
from showrun.language import gettext as _
from showrun.shows.web.office_form import OfficeForm

LARGEST_FILE = 2_000_000  # bytes
LONGEST_PHRASE = LONGEST["quick_phrase"]
FORM_WORDS = {
    Form.POINTS: gettext_lazy("Points: each row takes a mark from 0 to its most"),
    Form.PASS_FAIL: gettext_lazy("Pass or fail: each row takes one of the two"),
    Form.PLACINGS: gettext_lazy("Places only: one row; the judge puts the wagons in order"),
}


class NameForm(OfficeForm):
    """A card's name and the notice above it."""

    prefix = "card"

    name = forms.CharField(
        label=gettext_lazy("Name"),
        help_text=gettext_lazy(
            "As judges and exhibitors read it, such as: Wagon, camp and harness."
        ),
        max_length=120,
        error_messages={"required": gettext_lazy("A name for the card, please.")},
        widget=forms.TextInput(attrs={"autocomplete": "off", "dir": "auto"}),
    )
    notice = forms.CharField(
        label=gettext_lazy("Notice"),
        help_text=gettext_lazy(
            "Shown above the card wherever it is. Leave it empty if there is none."
        ),
        max_length=LONGEST["notice"],
        required=False,
        widget=forms.Textarea(attrs={"rows": 3, "dir": "auto"}),
    )


class BeginForm(OfficeForm):
    """The name of a card begun empty."""

    prefix = "begin"

    name = forms.CharField(
        label=gettext_lazy("Name of the card"),
        max_length=120,
        error_messages={"required": gettext_lazy("A name for the card, please.")},
        widget=forms.TextInput(attrs={"autocomplete": "off", "dir": "auto"}),
    )


class ImportForm(OfficeForm):
    """A card as a file or as pasted text."""

    prefix = "import"

    file = forms.FileField(
        label=gettext_lazy("File"),
        help_text=gettext_lazy("YAML or JSON, in UTF-8."),
        required=False,
        allow_empty_file=True,
        widget=forms.ClearableFileInput(attrs={"accept": ".yaml,.yml,.json,text/plain"}),
    )
    text = forms.CharField(
        label=gettext_lazy("Or paste its text"),
        required=False,
        strip=False,
        widget=forms.Textarea(attrs={"rows": 8, "spellcheck": "false", "dir": "auto"}),
    )

    def clean(self) -> dict[str, Any]:
        """Take the file's text, or what was pasted; one of them."""
        cleaned: dict[str, Any] = super().clean() or {}
        file, text = cleaned.get("file"), cleaned.get("text", "")
        if isinstance(file, UploadedFile):
            if text.strip():
                self.add_error("text", _("Either a file or pasted text, please, not both."))
            text = self._decode(file)
        if not text.strip() and not self.errors:
            self.add_error("file", _("Choose a file, or paste the card's text."))
        cleaned["text"] = text
        return cleaned

    def _decode(self, file: UploadedFile) -> str:
        if (file.size or 0) > LARGEST_FILE:
            self.add_error(
                "file", _("A card is at most {n} MB.").format(n=LARGEST_FILE // 1_000_000)
            )
            return ""
        try:
            return bytes(file.read()).decode("utf-8-sig")
        except UnicodeDecodeError:
            self.add_error(
                "file", _("This file is not UTF-8 text. Save it as UTF-8 and try again.")
            )
            return ""


class SectionForm(OfficeForm):
    """One section of the card."""

    prefix = "section"

    name = forms.CharField(
        label=gettext_lazy("Name"),
        max_length=80,
        error_messages={"required": gettext_lazy("A name for the section, please.")},
        widget=forms.TextInput(attrs={"autocomplete": "off", "dir": "auto"}),
    )
    code = forms.SlugField(
        label=gettext_lazy("Code"),
        help_text=gettext_lazy(
            "Made from the name if you leave it empty. Seats, judges and classes are kept by it "
            "from one version of the card to the next."
        ),
        max_length=50,
        required=False,
        error_messages={"invalid": gettext_lazy("Letters, digits, dashes and low lines only.")},
    )
    form = forms.ChoiceField(
        label=gettext_lazy("What judges give"),
        choices=[(form.value, words) for form, words in FORM_WORDS.items()],
        widget=forms.RadioSelect,
        initial=Form.POINTS.value,
        error_messages={"required": gettext_lazy("What do judges give?")},
    )
    all_or_nothing = forms.BooleanField(
        label=gettext_lazy("All or nothing"),
        help_text=gettext_lazy("Pass or fail only: one row failed gives the section no points."),
        required=False,
    )
    points = forms.DecimalField(
        label=gettext_lazy("Points"),
        help_text=gettext_lazy("What the section is worth from one judge."),
        min_value=0,
        max_digits=6,
        decimal_places=2,
        error_messages={
            "required": gettext_lazy("How many points?"),
            "invalid": gettext_lazy("A number of points, please."),
            "min_value": gettext_lazy("Points are not below zero."),
        },
    )
    minutes = forms.IntegerField(
        label=gettext_lazy("Minutes"),
        help_text=gettext_lazy("At one wagon, for one judge."),
        min_value=1,
        max_value=600,
        error_messages={
            "required": gettext_lazy("How many minutes?"),
            "invalid": gettext_lazy("A whole number of minutes, please."),
            "min_value": gettext_lazy("At least a minute, please."),
            "max_value": gettext_lazy("At most 600 minutes, please."),
        },
    )
    quick_phrases = forms.CharField(
        label=gettext_lazy("Quick phrases"),
        help_text=gettext_lazy("One a line; a judge taps them into the remark."),
        required=False,
        widget=forms.Textarea(attrs={"rows": 4, "dir": "auto"}),
    )

    def clean_quick_phrases(self) -> list[str]:
        """Return the phrases, a line each."""
        lines = self.cleaned_data["quick_phrases"].splitlines()
        phrases = [" ".join(line.split()) for line in lines if line.strip()]
        if len(phrases) > MOST_PHRASES or any(len(p) > LONGEST_PHRASE for p in phrases):
            raise forms.ValidationError(
                _("At most {most} phrases of {longest} letters each.").format(
                    most=MOST_PHRASES, longest=LONGEST_PHRASE
                )
            )
        return phrases


def shown_section(section: Section) -> dict[str, Any]:
    """Return what the form shows of a section."""
    return {
        "name": section.name,
        "code": section.code,
        "form": section.form,
        "all_or_nothing": section.all_or_nothing,
        "points": plain(section.points),
        "minutes": section.minutes,
        "quick_phrases": "\n".join(section.quick_phrases),
    }


def plain(value: Decimal) -> Decimal:
    """Return a number without needless noughts, for a form."""
    return value.quantize(Decimal(1)) if value == value.to_integral_value() else value.normalize()


class UseForm(OfficeForm):
    """Why the card changes while judging runs."""

    reason = forms.CharField(
        label=gettext_lazy("Why"),
        help_text=gettext_lazy(
            "For the record, such as: the row on lines was meant for every rig."
        ),
        max_length=300,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off", "dir": "auto"}),
    )
