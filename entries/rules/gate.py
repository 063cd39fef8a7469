"""What is ticked off at the gate, in its order, and what each tick is called."""

from __future__ import annotations

from enum import StrEnum

from showrun.language import gettext as _
from showrun.language import gettext_noop as N_


class Tick(StrEnum):
    """What is ticked off; the value is the column's name before `_at`."""

    ARRIVED = "arrived"
    PAPERS = "papers_seen"
    CREW = "crew_seen"
    PLATE = "plate_given"
    ON_SPOT = "on_spot"


# As the record keeps them.
TICK_WORDS = {
    Tick.ARRIVED: N_("arrived"),
    Tick.PAPERS: N_("papers seen"),
    Tick.CREW: N_("crew seen"),
    Tick.PLATE: N_("number plate given"),
    Tick.ON_SPOT: N_("on the spot"),
}


def tick_words(tick: Tick) -> str:
    """Name a tick in the reader's language, as it stands within a sentence.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> tick_words(Tick.PLATE)
    'number plate given'
    """
    return _(TICK_WORDS[tick])
