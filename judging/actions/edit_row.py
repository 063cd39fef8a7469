"""Edit the rows of a draft: add, change, move, take to another section, remove."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction

from judging.actions.adopt_scorecard import row_fields, row_of
from judging.actions.edit_scorecard import (
    MARKS_OF_FORM,
    code_from,
    codes_of_rows,
    demand_draft,
    faults_at,
    in_new_order,
    record_edit,
)
from judging.models import Criterion, Scorecard, Section
from judging.queries.cards import row_data
from judging.rules.cards.scorecard import Form
from showrun.errors import InvalidInput
from showrun.language import gettext as _
from showrun.shows.models import Person

PLACE = "sections.0.criteria.0"


@transaction.atomic
def add_row(
    *, section: Section, fields: Mapping[str, Any], by: Person | None, at: datetime
) -> Criterion:
    """Add a row at the section's end; its code is made from its name if none is given."""
    card = demand_draft(section.scorecard)
    line = _line(card, section, fields, None)
    row = row_of(section, line, _end_of(section))
    row.save()
    record_edit(card, "added", f"row {row}", after=row_data(row), by=by, at=at)
    return row


@transaction.atomic
def change_row(
    *,
    row: Criterion,
    fields: Mapping[str, Any],
    section: Section | None = None,
    by: Person | None,
    at: datetime,
) -> Criterion:
    """Change a row, and take it to the end of another section of its card if one is named."""
    card = demand_draft(row.section.scorecard)
    before = {"section": row.section.code, **row_data(row)}
    where = section or row.section
    if where.scorecard_id != card.pk:
        raise InvalidInput(_("That section is on another card."))
    for name, value in row_fields(_line(card, where, fields, row)).items():
        setattr(row, name, value)
    if where.pk != row.section_id:
        row.position, row.section = _end_of(where), where
    row.save()
    after = {"section": where.code, **row_data(row)}
    if before != after:
        record_edit(card, "changed", f"row {row}", before=before, after=after, by=by, at=at)
    return row


def _line(
    card: Scorecard, section: Section, fields: Mapping[str, Any], row: Criterion | None
) -> dict[str, Any]:
    """Return the row in the shape of a card file, or refuse what is wrong in it."""
    kept = row_data(row) if row else {}
    line = {name: kept[name] for name in ("max_mark", "step") if name in kept} | dict(fields)
    line["name"] = " ".join(str(line.get("name", "")).split())
    taken = codes_of_rows(card, but=row)
    own = row.code if row else ""
    line["code"] = line.get("code") or own or code_from(line["name"], taken, stem="row")
    if line["code"] in taken:
        raise InvalidInput(
            _("Another row of this card has the code “{code}”.").format(code=line["code"]),
            fields={"code": _("Another code, please.")},
        )
    if section.form in MARKS_OF_FORM:
        line["max_mark"], line["step"] = MARKS_OF_FORM[Form(section.form)], 1
    plain = {name: value for name, value in line.items() if value not in ("", None)}
    data = {
        "code": section.code,
        "name": section.name,
        "points": section.points,
        "minutes": section.minutes,
        "form": section.form,
        "criteria": [plain],
    }
    faults = faults_at({"name": "Any card", "sections": [data]}, PLACE)
    if faults:
        raise InvalidInput(_("The row cannot be kept as it is."), fields=faults)
    return line


@transaction.atomic
def move_row(*, row: Criterion, by_places: int, by: Person | None, at: datetime) -> Criterion:
    """Move a row up (negative) or down in its section."""
    card = demand_draft(row.section.scorecard)
    peers = list(row.section.criteria.order_by("position", "pk"))
    if in_new_order(peers, row, by_places):
        record_edit(card, "moved", f"row {row}", by=by, at=at)
    return row


@transaction.atomic
def remove_row(*, row: Criterion, by: Person | None, at: datetime) -> None:
    """Remove a row from a draft."""
    card = demand_draft(row.section.scorecard)
    record_edit(card, "removed", f"row {row}", before=row_data(row), by=by, at=at)
    row.delete()


def _end_of(section: Section) -> int:
    last = section.criteria.order_by("position").values_list("position", flat=True).last()
    return 0 if last is None else last + 1
