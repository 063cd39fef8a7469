"""What terms of entering a show may set, and what changing them does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import pairwise

from entries.rules.eligibility import fault_of_text
from entries.rules.refunds import Step
from showrun.language import gettext as _

LONGEST_OFFER_HOURS = 720
OLDEST_PAPER_DAYS = 1095
MOST_STEPS = 6
MOST_PLACES = 500
# Longest texts of the terms [letters].
WAIVER_MAX = 20_000
NOTE_MAX = 2000


@dataclass(frozen=True)
class Terms:
    """A show's terms of entering with its cap and fee; None where the show asks for nothing.

    Attributes
    ----------
    opens_at, closes_at, crew_frozen_at : datetime or None
    entry_cap : int
        Places there are.
    promotion_hours : int or None [h]
        To take up an offered place; None where the office promotes by hand.
    entry_fee_cents, deposit_cents, travel_cents : int [cents]
    refund_steps : sequence of Step
        In order of their dates.
    eia_max_age_days, certificate_max_age_days : int or None [d]
    """

    entry_cap: int
    entry_fee_cents: int = 0
    refund_terms: str = ""
    opens_at: datetime | None = None
    closes_at: datetime | None = None
    promotion_hours: int | None = None
    deposit_cents: int = 0
    travel_cents: int = 0
    refund_steps: Sequence[Step] = ()
    waiver_text: str = ""
    animals_asked: bool = False
    eia_max_age_days: int | None = None
    certificate_max_age_days: int | None = None
    animal_note: str = ""
    emergency_asked: bool = False
    camp_asked: bool = False
    crew_frozen_at: datetime | None = None
    names_judges: bool = False


def faults_of_terms(
    terms: Terms, *, starts_at: datetime, over_at: datetime, ends_on: date, taken: int, cap_now: int
) -> dict[str, str]:
    """List what is wrong with terms, one message per field; empty when the show can set them.

    Parameters
    ----------
    terms : Terms
        As the office wants them.
    starts_at, over_at : datetime
        The first minute of the show's first day, and the first one after its last.
    ends_on : date
        The show's last day.
    taken, cap_now : int
        Entries holding a place, places there are till now.

    Source
    ------
    Common practice, no source: dates before the show, less comes back the later it is, and nobody
    loses a place to a lower cap.

    Examples
    --------
    >>> from datetime import UTC
    >>> start, over = datetime(2027, 5, 14, tzinfo=UTC), datetime(2027, 5, 17, tzinfo=UTC)
    >>> faults_of_terms(Terms(entry_cap=10), starts_at=start, over_at=over,
    ...     ends_on=date(2027, 5, 16), taken=12, cap_now=15)
    {'entry_cap': '12 places are taken; the cap cannot be lower than that.'}
    """
    hours = _("From 1 to {most} hours, or leave it empty.")
    days = _("From 1 to {most} days, or leave it empty.")
    found = {
        "entry_cap": _fault_of_cap(terms.entry_cap, taken, cap_now),
        "refund_terms": fault_of_text(_("The text"), terms.refund_terms, NOTE_MAX, lines=True),
        **_faults_of_dates(terms, starts_at, over_at),
        "promotion_hours": _fault_of_span(terms.promotion_hours, LONGEST_OFFER_HOURS, hours),
        "refund_steps": _fault_of_steps(terms.refund_steps, ends_on),
        "waiver_text": fault_of_text(_("The waiver"), terms.waiver_text, WAIVER_MAX, lines=True),
        "eia_max_age_days": _fault_of_span(terms.eia_max_age_days, OLDEST_PAPER_DAYS, days),
        "certificate_max_age_days": _fault_of_span(
            terms.certificate_max_age_days, OLDEST_PAPER_DAYS, days
        ),
        "animal_note": fault_of_text(_("The note"), terms.animal_note, NOTE_MAX, lines=True),
        "animals_asked": _fault_of_animals(terms),
    }
    return {field: sentence for field, sentence in found.items() if sentence}


def next_waiver_version(*, before: str, after: str, version: int) -> int:
    """Count the waiver's texts: another text has the next number, and must be agreed to anew.

    Parameters
    ----------
    before, after : str
        The text till now and from now on; empty where no waiver is asked.
    version : int
        Of the last text there was.

    Source
    ------
    Common practice, no source: whoever agreed, agreed to the text there was.

    Examples
    --------
    >>> next_waiver_version(before="", after="I come at my own risk.", version=0)
    1
    >>> next_waiver_version(before="Own risk.", after="", version=3)
    3
    """
    same = before.split() == after.split()
    return version if same or not after.strip() else version + 1


def _fault_of_cap(cap: int, taken: int, cap_now: int) -> str:
    if not 1 <= cap <= MOST_PLACES:
        return _("From 1 to {most} places, please.").format(most=MOST_PLACES)
    if cap < taken and cap < cap_now:
        return _("{taken} places are taken; the cap cannot be lower than that.").format(taken=taken)
    return ""


def _faults_of_dates(terms: Terms, starts_at: datetime, over_at: datetime) -> dict[str, str]:
    found = {}
    if terms.closes_at and terms.closes_at > starts_at:
        found["closes_at"] = _("Entries close before the show begins.")
    elif terms.opens_at and terms.closes_at and terms.opens_at >= terms.closes_at:
        found["closes_at"] = _("Entries close after they open.")
    if terms.opens_at and terms.opens_at >= starts_at:
        found["opens_at"] = _("Entries open before the show begins.")
    if terms.crew_frozen_at and terms.crew_frozen_at >= over_at:
        found["crew_frozen_at"] = _("The crew lists freeze before the show is over.")
    return found


def _fault_of_span(count: int | None, most: int, words: str) -> str:
    if count is None or 1 <= count <= most:
        return ""
    return words.format(most=most)


def _fault_of_steps(steps: Sequence[Step], ends_on: date) -> str:
    if len(steps) > MOST_STEPS:
        return _("At most {most} steps, please.").format(most=MOST_STEPS)
    if any(a.until >= b.until for a, b in pairwise(steps)):
        return _("Each step holds until a later day than the one before.")
    if any(a.share_percent < b.share_percent for a, b in pairwise(steps)):
        return _("The share stays or falls from step to step; it does not rise again.")
    if steps and steps[-1].until > ends_on:
        return _("The last step ends with the show at the latest.")
    return ""


def _fault_of_animals(terms: Terms) -> str:
    ages = (terms.eia_max_age_days, terms.certificate_max_age_days)
    if not terms.animals_asked and any(age is not None for age in ages):
        return _(
            "Papers are asked for by animal: tick that animals are named, or empty their ages."
        )
    return ""
