"""What an entry still lacks of what its show asks: one list, the same for everybody."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from entries.rules.animal_papers import EIA, AnimalFacts, paper_faults
from showrun.language import gettext as _


@dataclass(frozen=True)
class Demands:
    """What a show asks of each entry beyond the form; `None` and 0 ask for nothing.

    `waiver_version` is the version in force; ages are in days, taken at `first_day`.
    """

    first_day: date
    waiver_version: int = 0
    emergency: bool = False
    camp: bool = False
    animals: bool = False
    eia_max_age_days: int | None = None
    certificate_max_age_days: int | None = None


@dataclass(frozen=True)
class Given:
    """What an entry has given so far; `waiver_version` is the one agreed to."""

    waiver_version: int | None = None
    emergency: bool = False
    frontage: bool = False
    depth: bool = False
    animals: Sequence[AnimalFacts] = ()


@dataclass(frozen=True)
class Lack:
    """One thing an entry lacks: in a sentence, where to give it, and by which day.

    `where` is the id of the field on the page of the entry's details.
    """

    what: str
    where: str
    by: date | None = None


def lacking(asked: Demands, given: Given) -> list[Lack]:
    """List what an entry still lacks, in the order of the page on which it is given.

    Parameters
    ----------
    asked : Demands
        Of the show.
    given : Given
        Of the entry.

    Returns
    -------
    list of Lack
        Empty when nothing is missing. Animals' papers are compared by date alone.

    Source
    ------
    Common practice, no source: what a show asks is complete on its first day.

    Examples
    --------
    >>> asked = Demands(first_day=date(2027, 5, 14), waiver_version=2, emergency=True)
    >>> for one in lacking(asked, Given(waiver_version=1)):
    ...     print(one.where, "-", one.what)
    waiver_agreed_by - The waiver has a new version; you agreed to the one before.
    emergency_name - Somebody to call in an emergency is not named.
    """
    found = [*_waiver(asked, given), *_camp(asked, given)]
    if asked.emergency and not given.emergency:
        what = _("Somebody to call in an emergency is not named.")
        found.append(Lack(what, "emergency_name", asked.first_day))
    return found + _animals(asked, given)


def _waiver(asked: Demands, given: Given) -> list[Lack]:
    if not asked.waiver_version or given.waiver_version == asked.waiver_version:
        return []
    what = _("The waiver is not agreed to.")
    if given.waiver_version is not None:
        what = _("The waiver has a new version; you agreed to the one before.")
    return [Lack(what, "waiver_agreed_by", asked.first_day)]


def _camp(asked: Demands, given: Given) -> list[Lack]:
    if not asked.camp or (given.frontage and given.depth):
        return []
    field = "depth_ft" if given.frontage else "frontage_ft"
    return [Lack(_("The size of your camp is not given."), field, asked.first_day)]


def _animals(asked: Demands, given: Given) -> list[Lack]:
    if asked.animals and not given.animals:
        what = _("No animal is listed. If you bring none, tell the show office.")
        return [Lack(what, "animal_name_1", asked.first_day)]
    return [
        Lack(
            f"{animal.name}: {fault.words}",
            f"animal_{'eia' if fault.field == EIA else 'certificate'}_{number}",
            asked.first_day,
        )
        for number, animal in enumerate(given.animals, start=1)
        for fault in paper_faults(
            kind=animal.kind,
            eia_tested_on=animal.eia_tested_on,
            certificate_on=animal.certificate_on,
            first_day=asked.first_day,
            eia_max_age_days=asked.eia_max_age_days,
            certificate_max_age_days=asked.certificate_max_age_days,
        )
    ]
