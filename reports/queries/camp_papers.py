"""What camp signs and number plates say: a page for each confirmed wagon, by number."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.urls import reverse

from entries.models import Entry
from entries.queries.camp import confirmed_entries
from reports.models import Paper
from reports.queries.card_papers import square
from reports.rules.plates import PlateNumber, plate_number
from showrun.errors import NotYet
from showrun.language import gettext as _
from showrun.shows.models import Show

CAMP_KINDS = (Paper.Kind.SIGNS, Paper.Kind.PLATES)
# Between the margins of a plate, laid across: the narrower of letter and A4 [pt].
PLATE_WIDTH_PT = 720


@dataclass(frozen=True)
class Plate:
    """A wagon's plate."""

    entry: Entry
    number: PlateNumber


def signs_content(paper: Paper) -> dict[str, Any]:
    """Return what the signs of this printing say, as the camp stands while they are drawn."""
    address = public_address(paper.show)
    return {**_content(paper), "address": address, "square": square(address)}


def plates_content(paper: Paper) -> dict[str, Any]:
    """Return what the plates of this printing say."""
    content = _content(paper)
    plates = [
        Plate(entry, plate_number(entry.number or 1, width_pt=PLATE_WIDTH_PT))
        for entry in content["entries"]
    ]
    return {**content, "plates": plates}


def _content(paper: Paper) -> dict[str, Any]:
    entries = list(confirmed_entries(paper.show))
    if not entries:
        raise NotYet(_("No wagon is confirmed any more; there is nothing to print."))
    return {"paper": paper, "show": paper.show, "entries": entries}


def public_address(show: Show) -> str:
    """Return where anybody reads about the show."""
    return str(settings.PUBLIC_URL).rstrip("/") + reverse("judging:show", args=[show.slug])
