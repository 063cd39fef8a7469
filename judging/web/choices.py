"""Fields that let somebody choose a judge, a wagon or a class; a form says which there are."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy

from entries.models import Entry
from judging.models import Judge

WAGON = gettext_lazy("Wagon")


def judge_field() -> forms.ModelChoiceField[Judge]:
    """Ask for a judge of the show."""
    return forms.ModelChoiceField(
        Judge.objects.none(),
        label=gettext_lazy("Judge"),
        empty_label=gettext_lazy("Choose a judge"),
        error_messages={
            "required": gettext_lazy("Which judge?"),
            "invalid_choice": gettext_lazy("Choose a judge."),
        },
    )


def wagon_field(label: str | Promise = WAGON) -> forms.ModelChoiceField[Entry]:
    """Ask for a wagon of the show."""
    return forms.ModelChoiceField(
        Entry.objects.none(),
        label=label,  # type: ignore[arg-type]  # words said later are words too
        empty_label=gettext_lazy("Choose a wagon"),
        error_messages={
            "required": gettext_lazy("Which wagon?"),
            "invalid_choice": gettext_lazy("Choose a wagon."),
        },
    )


def class_field(rows: QuerySet[Any]) -> forms.ModelChoiceField[Any]:
    """Ask for a class of the show, or for its row in a season."""
    return forms.ModelChoiceField(
        rows,
        label=gettext_lazy("Class"),
        empty_label=gettext_lazy("Choose a class"),
        error_messages={
            "required": gettext_lazy("Which class?"),
            "invalid_choice": gettext_lazy("Choose a class."),
        },
    )
