"""Bring a scorecard into a show: from a file, from the starter library, or begun empty."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from judging.models import Criterion, Scorecard, Section
from judging.queries.cards import read_data, versions_of
from judging.queries.library import library_cards
from judging.rules.cards.card_file import CardFaults, CardFile, as_data
from judging.rules.cards.scorecard import Form
from showrun.errors import InvalidInput, NotFound
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show

NOT_USABLE = N_("The scorecard cannot be used as it is.")


def read_card(data: object) -> CardFile:
    """Read a card file, sections taken from the library filled in; refuse it place by place."""
    try:
        return read_data(data)
    except CardFaults as faults:
        raise InvalidInput(_(NOT_USABLE), fields=faults.faults) from faults


@transaction.atomic
def adopt_scorecard(
    *, show: Show, data: Mapping[str, Any], by: Person | None, at: datetime
) -> Scorecard:
    """Make the card from plain data, or refuse it naming each place at fault.

    The show's first card is in use at once; any later one is a draft, and a card of a name
    the show has already becomes its next version.
    """
    file = as_data(read_card(data))
    show = Show.objects.select_for_update().get(pk=show.pk)
    card = Scorecard.objects.create(
        show=show,
        code=file.get("code", ""),
        name=file["name"],
        version=_version(show, file["name"], file.get("version", 1)),
        notice=file.get("notice", ""),
        in_use=not Scorecard.objects.filter(show=show, in_use=True).exists(),
        made_at=at,
    )
    for place, line in enumerate(file["sections"]):
        write_section(card, line, place)
    record_change(
        show=show, actor=by, at=at, verb="adopted", subject=f"scorecard {card}", after=file
    )
    return card


def _version(show: Show, name: str, asked: int) -> int:
    """Return the number the card gets: what its file says, or the next of its name."""
    there = [card.version for card in versions_of(show) if card.name == name]
    return max(there) + 1 if there else asked


def adopt_from_library(*, show: Show, code: str, by: Person | None, at: datetime) -> Scorecard:
    """Take a card of the starter library."""
    card = library_cards().get(code)
    if card is None:
        raise NotFound(_("The starter library has no card “{code}”.").format(code=code))
    return adopt_scorecard(show=show, data=card, by=by, at=at)


@transaction.atomic
def begin_scorecard(*, show: Show, name: str, by: Person | None, at: datetime) -> Scorecard:
    """Begin an empty draft, to be built section by section."""
    name = " ".join(name.split())
    longest = Scorecard._meta.get_field("name").max_length
    assert longest is not None
    if not name or len(name) > longest:
        sentence = _("A name, please, of at most {longest} letters.").format(longest=longest)
        raise InvalidInput(_("The card needs a name."), fields={"name": sentence})
    show = Show.objects.select_for_update().get(pk=show.pk)
    card = Scorecard.objects.create(
        show=show, name=name, version=_version(show, name, 1), made_at=at
    )
    record_change(show=show, actor=by, at=at, verb="began", subject=f"scorecard {card}")
    return card


def write_section(card: Scorecard, line: Mapping[str, Any], position: int) -> Section:
    """Write a section of a checked card file with its rows."""
    section = Section.objects.create(
        scorecard=card,
        code=line["code"],
        name=line["name"],
        points=Decimal(str(line["points"])),
        minutes=line["minutes"],
        position=position,
        form=line.get("form", Form.POINTS.value),
        all_or_nothing=line.get("all_or_nothing", False),
        quick_phrases=list(line.get("quick_phrases", ())),
    )
    Criterion.objects.bulk_create(
        row_of(section, row, number) for number, row in enumerate(line["criteria"])
    )
    return section


def row_of(section: Section, line: Mapping[str, Any], position: int) -> Criterion:
    """Return a row of a checked card file, not saved yet."""
    return Criterion(section=section, position=position, **row_fields(line))


def row_fields(line: Mapping[str, Any]) -> dict[str, Any]:
    """Return the columns of a row of a card file."""
    return {
        "code": line["code"],
        "name": line["name"],
        "guidance": str(line.get("guidance", "")).strip(),
        "danger": line.get("danger", ""),
        "max_mark": Decimal(str(line.get("max_mark", 10))),
        "step": Decimal(str(line.get("step", 1))),
        "weight": Decimal(str(line.get("weight", 1))),
        "applies": line.get("applies") or {},
        "one_of": line.get("one_of", ""),
        "parts": list(line.get("parts", ())),
    }
