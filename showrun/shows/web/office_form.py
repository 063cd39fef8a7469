"""What every form of an office page has in common: its look, and where a refusal stands."""

from __future__ import annotations

from django import forms
from django.forms.renderers import DjangoTemplates

from showrun.errors import ShowError


class FieldsInOurWords(DjangoTemplates):
    """Draws a field with its label, hint and fault as the stylesheet has them."""

    field_template_name = "shows/field.html"


class OfficeForm(forms.Form):
    """A form whose faults come from its fields or from a refused action."""

    default_renderer = FieldsInOurWords()

    def take(self, fault: ShowError) -> None:
        """Put a refusal beside the fields it names, and its sentence on top."""
        known = {name: words for name, words in fault.fields.items() if name in self.fields}
        for name, words in known.items():
            self.add_error(name, words)
        if not known:
            self.add_error(None, fault.detail)

    @property
    def fault_list(self) -> list[tuple[str, str]]:
        """Every fault as (id of the field or "", sentence)."""
        return [
            (self._id_of(name), str(sentence))
            for name, sentences in self.errors.items()
            for sentence in sentences
        ]

    def _id_of(self, name: str) -> str:
        if name not in self.fields:
            return ""
        field = self[name]
        return field.id_for_label or str(field.auto_id)
