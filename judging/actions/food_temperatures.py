"""Write a line into the temperature log; set the figures that hold at a show."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from entries.models import Entry
from judging.models import FoodFigures, TemperatureReading
from judging.queries.food import food_book
from judging.rules.food.temperatures import FIGURES, figures_of, judge_reading
from showrun.errors import Conflict, InvalidInput
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show

LONGEST_FOOD = 80
LONGEST_REASON = 200
LONGEST_NAME = 120
TENTH = Decimal("0.1")


@transaction.atomic
def log_temperature(
    *,
    show: Show,
    figure: str,
    food: str,
    reading_f: Decimal,
    by: Person,
    at: datetime,
    entry: Entry | None = None,
    corrects: TemperatureReading | None = None,
    reason: str = "",
) -> TemperatureReading:
    """Add a line to the log. A correction is a new line with its reason; the old one stays."""
    food, reason = food.strip(), reason.strip()
    book = food_book(show)
    faults: dict[str, str] = {}
    if figure not in book.figures:
        faults["figure"] = _("Choose what was measured.")
    if not 0 < len(food) <= LONGEST_FOOD:
        faults["food"] = _("Which food, in {longest} letters at most?").format(longest=LONGEST_FOOD)
    if corrects is not None and not 0 < len(reason) <= LONGEST_REASON:
        faults["reason"] = _("Say why the line is corrected, in {longest} letters at most.").format(
            longest=LONGEST_REASON
        )
    if entry is not None and entry.show_id != show.pk:
        faults["entry"] = _("That wagon is in another show.")
    if faults:
        raise InvalidInput(_("The line is not written yet: see the marked fields."), fields=faults)
    if corrects is not None:
        _demand_correctable(show, corrects)
    try:
        said = judge_reading(book.figures[figure], reading_f)
    except ValueError as fault:
        raise InvalidInput(
            _("That is no temperature of food."), fields={"reading": f"{fault}."}
        ) from fault
    line = TemperatureReading.objects.create(
        show=show,
        entry=entry,
        food=food,
        figure=figure,
        limit_f=book.figures[figure].limit_f,
        reading_f=reading_f.quantize(TENTH),
        act_now=said.act_now,
        said=said.sentence,
        edition=book.edition,
        read_at=at,
        read_by=by,
        corrects=corrects,
        reason=reason if corrects else "",
    )
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="corrected" if corrects else "logged",
        subject=f"the temperature of {food}",
        before={"reading_f": str(corrects.reading_f)} if corrects else None,
        after={"reading_f": str(line.reading_f), "said": said.sentence},
        reason=line.reason,
    )
    return line


@transaction.atomic
def set_food_figures(
    *,
    show: Show,
    edition: str,
    authority: str,
    figures: Mapping[str, Decimal],
    by: Person,
    at: datetime,
) -> FoodFigures:
    """Set the show's temperatures, the code they are from, and who decides here.

    A figure equal to the default is not kept as changed. Lines in the log stay as they are.
    """
    Show.objects.select_for_update().get(pk=show.pk)
    edition, authority = edition.strip(), authority.strip()
    faults: dict[str, str] = {}
    if not 0 < len(edition) <= LONGEST_NAME:
        faults["edition"] = _(
            "Name the code and its edition, in {longest} letters at most."
        ).format(longest=LONGEST_NAME)
    if len(authority) > LONGEST_NAME:
        faults["authority"] = _("At most {longest} letters, please.").format(longest=LONGEST_NAME)
    for code, degrees in figures.items():
        try:
            figures_of({code: degrees})
        except ValueError as fault:
            faults[code] = f"{str(fault)[:1].upper()}{str(fault)[1:]}."
    if faults:
        raise InvalidInput(_("The figures are not set: see the marked fields."), fields=faults)
    old = food_book(show)
    changed = {
        code: str(degrees) for code, degrees in figures.items() if degrees != FIGURES[code].limit_f
    }
    kept, _unused = FoodFigures.objects.update_or_create(
        show=show, defaults={"edition": edition, "authority": authority, "changed": changed}
    )
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="set",
        subject="the food temperatures",
        before={
            "edition": old.edition,
            "authority": old.authority,
            "changed": {code: str(old.figures[code].limit_f) for code in sorted(old.changed)},
        },
        after={"edition": edition, "authority": authority, "changed": changed},
    )
    return kept


def _demand_correctable(show: Show, line: TemperatureReading) -> None:
    if line.show_id != show.pk:
        raise InvalidInput(_("That line is in another show's log."))
    if TemperatureReading.objects.filter(corrects=line).exists():
        raise Conflict(_("That line is corrected already; correct the newer one."))
