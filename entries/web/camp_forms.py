"""The forms of the camp page: a row of the table for each spot and zone, and rows laid out at once.

Each field carries what it said when the page was made, so that a save changes only what was
changed on this page and not what another has changed meanwhile.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any, ClassVar

from django import forms
from django.utils.translation import gettext_lazy

from entries.actions.mark_zones import ZoneChange
from entries.actions.move_spots import FARTHEST_FT, MOST_SPOTS, SpotChange
from entries.models import CampSpot, CampZone
from showrun.language import gettext as _

if TYPE_CHECKING:
    from django.utils.functional import _StrPromise

NEW = "new"


def _feet(label: _StrPromise, *, least: float = -FARTHEST_FT, initial: float | None = None) -> Any:
    return forms.FloatField(
        label=label,
        min_value=least,
        max_value=FARTHEST_FT,
        initial=initial,
        required=False,
        show_hidden_initial=True,
        widget=forms.NumberInput(attrs={"step": "any", "class": "feet", "aria-label": label}),
    )


def _whole(
    label: _StrPromise, *, least: int = 1, most: int = FARTHEST_FT, initial: int | None = None
) -> Any:
    return forms.IntegerField(
        label=label,
        min_value=least,
        max_value=most,
        initial=initial,
        required=False,
        show_hidden_initial=True,
        widget=forms.NumberInput(attrs={"class": "feet", "aria-label": label}),
    )


def _plain(value: Any) -> Any:
    """Return whole feet without a point, as people type them."""
    return int(value) if isinstance(value, float) and value.is_integer() else value


class _RowForm(forms.Form):
    """One row of a table: what was changed, all of it in a new row, or that it is removed."""

    remove = forms.BooleanField(required=False)
    stem: ClassVar[str] = ""
    fields_kept: ClassVar[tuple[str, ...]] = ()

    def __init__(self, data: Any = None, *, row: Any = None, about: str = "") -> None:
        self.row = row
        prefix = f"{self.stem}-{row.pk if row else NEW}"
        initial = {name: _plain(getattr(row, name)) for name in self.fields_kept} if row else None
        super().__init__(data, prefix=prefix, initial=initial)
        for name, field in self.fields.items():
            words = "remove" if name == "remove" else str(field.label).lower()
            field.widget.attrs["aria-label"] = f"{about}: {words}"

    @property
    def is_blank(self) -> bool:
        """Whether a new row was left empty."""
        return self.row is None and not self.has_changed()

    def clean(self) -> dict[str, Any]:
        """Refuse a changed field that is empty, and a new row that lacks one."""
        given = super().clean() or {}
        if given.get("remove") or self.is_blank:
            return dict(given)
        for name in self.fields_kept:
            if given.get(name) in (None, "") and name not in self.errors:
                self.add_error(name, _("Needed."))
        return dict(given)

    @property
    def values(self) -> dict[str, Any]:
        """What is to be written."""
        names = self.fields_kept if self.row is None else self.changed_data
        return {name: self.cleaned_data[name] for name in names if name in self.fields_kept}


class SpotForm(_RowForm):
    """One camp spot."""

    stem = "spot"
    fields_kept = ("number", "x_ft", "y_ft", "frontage_ft", "depth_ft")
    number = _whole(gettext_lazy("Number"), most=999_999)
    x_ft = _feet(gettext_lazy("East (x)"))
    y_ft = _feet(gettext_lazy("North (y)"))
    frontage_ft = _whole(gettext_lazy("Frontage"), initial=50)
    depth_ft = _whole(gettext_lazy("Depth"), initial=40)


class ZoneForm(_RowForm):
    """One zone."""

    stem = "zone"
    fields_kept = ("kind", "name", "x_ft", "y_ft", "width_ft", "depth_ft")
    kind = forms.ChoiceField(
        label=gettext_lazy("What it is"),
        choices=CampZone.Kind.choices,
        required=False,
        show_hidden_initial=True,
    )
    name = forms.CharField(
        label=gettext_lazy("Name"), max_length=60, required=False, show_hidden_initial=True
    )
    x_ft = _feet(gettext_lazy("West side (x)"))
    y_ft = _feet(gettext_lazy("North side (y)"))
    width_ft = _whole(gettext_lazy("Width"))
    depth_ft = _whole(gettext_lazy("Depth"))


class RowsForm(forms.Form):
    """Spots of one size laid out in rows."""

    n = _whole(gettext_lazy("Spots"), most=MOST_SPOTS, initial=10)
    n_rows = _whole(gettext_lazy("Rows"), most=40, initial=1)
    x_ft = _feet(gettext_lazy("West end of the first front (x)"), initial=0)
    y_ft = _feet(gettext_lazy("First front (y)"), initial=0)
    frontage_ft = _whole(gettext_lazy("Frontage"), initial=50)
    depth_ft = _whole(gettext_lazy("Depth"), initial=40)
    gap_ft = _feet(gettext_lazy("Between neighbors"), least=0, initial=10)
    lane_ft = _feet(gettext_lazy("Between rows"), least=0, initial=30)

    def __init__(self, data: Any = None, *, lacking: int = 0) -> None:
        super().__init__(data, prefix="rows", initial={"n": lacking} if lacking > 0 else {})
        for field in self.fields.values():
            field.required, field.show_hidden_initial = True, False


def spot_forms(spots: Iterable[CampSpot], data: Mapping[str, str] | None = None) -> list[SpotForm]:
    """Return a row for each spot, and an empty one."""
    rows = [
        SpotForm(data, row=spot, about=_("Spot {number}").format(number=spot.number))
        for spot in spots
    ]
    return [*rows, SpotForm(data, about=_("New spot"))]


def zone_forms(zones: Iterable[CampZone], data: Mapping[str, str] | None = None) -> list[ZoneForm]:
    """Return a row for each zone, and an empty one."""
    rows = [ZoneForm(data, row=zone, about=zone.name) for zone in zones]
    return [*rows, ZoneForm(data, about=_("New zone"))]


def spot_changes(rows: Iterable[SpotForm]) -> list[SpotChange]:
    """Return what the rows ask for; rows nobody touched ask for nothing."""
    return [
        SpotChange(row.row.pk if row.row else None, row.values, row.cleaned_data["remove"])
        for row in rows
        if row.has_changed() and not row.is_blank and (row.row or not row.cleaned_data["remove"])
    ]


def zone_changes(rows: Iterable[ZoneForm]) -> list[ZoneChange]:
    """Return what the rows ask for; rows nobody touched ask for nothing."""
    return [
        ZoneChange(row.row.pk if row.row else None, row.values, row.cleaned_data["remove"])
        for row in rows
        if row.has_changed() and not row.is_blank and (row.row or not row.cleaned_data["remove"])
    ]
