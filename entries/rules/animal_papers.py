"""What a show asks of the dates on animals' papers: never a statement of health."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from entries.rules.eligibility import fault_of_text, same_name
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.language import ngettext

ANIMALS_MAX = 12
ANIMAL_NAME_MAX = 80
DESCRIPTION_MAX = 120
HORSE, MULE, OTHER = "horse", "mule", "other"
KINDS = (HORSE, MULE, OTHER)
# The animals the EIA test is for; what else comes has no such paper.
EQUINE = frozenset({HORSE, MULE})

EIA = "eia_tested_on"
CERTIFICATE = "certificate_on"
PAPERS = {EIA: N_("EIA test"), CERTIFICATE: N_("certificate of veterinary inspection")}


@dataclass(frozen=True)
class AnimalFacts:
    """One animal and the dates its papers carry, as typed; `row` is its row, if it has one."""

    name: str
    kind: str = HORSE
    description: str = ""
    eia_tested_on: date | None = None
    certificate_on: date | None = None
    row: int | None = None


@dataclass(frozen=True)
class PaperFault:
    """What a paper lacks for this show; `field` is `EIA` or `CERTIFICATE`."""

    field: str
    words: str


def read_date(typed: str) -> date | None:
    """Read the date on a paper as it is typed; None where nothing is.

    Parameters
    ----------
    typed : str
        Such as ``2027-04-20``, as browsers send it, or ``4/20/2027``, month first.

    Raises
    ------
    ValueError
        With a sentence, where it is no date.

    Source
    ------
    Common practice, no source: dates are written month first on this country's papers.

    Examples
    --------
    >>> read_date("2027-04-20") == read_date(" 4/20/2027 ")
    True
    """
    text = typed.strip()
    if not text:
        return None
    for pattern in ("%Y-%m-%d", "%m/%d/%Y"):
        try:
            return datetime.strptime(text, pattern).date()
        except ValueError:
            continue
    raise ValueError(_("A date, please, such as 4/20/2027."))


def oldest_date(first_day: date, max_age_days: int) -> date:
    """Return the oldest date a paper may carry.

    Parameters
    ----------
    first_day : date
        The show's first day.
    max_age_days : int [d]
        As the show has set it.

    Source
    ------
    Arithmetic.

    Examples
    --------
    >>> oldest_date(date(2027, 5, 14), 30)
    datetime.date(2027, 4, 14)
    """
    return first_day - timedelta(days=max_age_days)


def paper_faults(
    *,
    kind: str,
    eia_tested_on: date | None,
    certificate_on: date | None,
    first_day: date,
    eia_max_age_days: int | None,
    certificate_max_age_days: int | None,
) -> tuple[PaperFault, ...]:
    """List what the dates on an animal's papers lack by the show's own rule.

    It compares dates and nothing else: a date that is recent enough says nothing of an animal's
    health, and the state veterinarian's rules go before the show's.

    Parameters
    ----------
    kind : str
        One of `KINDS`; the EIA test is asked for horses and mules.
    eia_tested_on, certificate_on : date or None
        As the papers carry them; None while not given.
    first_day : date
        The show's first day, at which the age is taken.
    eia_max_age_days, certificate_max_age_days : int or None [d]
        As the show has set them; None asks for no such paper.

    Source
    ------
    4 Texas Admin. Code 51.13 and 51.3 (EIA test within 12 months, six with an event passport);
    Maryland fair and show requirements (club copy), 2025 (12 months; certificates commonly 30
    days). What a show asks is its own to set.

    Examples
    --------
    >>> for fault in paper_faults(kind="mule", eia_tested_on=date(2026, 4, 1), certificate_on=None,
    ...         first_day=date(2027, 5, 14), eia_max_age_days=365, certificate_max_age_days=30):
    ...     print(fault.words)
    The date of the EIA test is older than this show asks (408 days before its first day; it asks
    for 365 at most).
    The date of the certificate of veterinary inspection is not given.
    """
    asked = (
        (EIA, eia_tested_on, eia_max_age_days if kind in EQUINE else None),
        (CERTIFICATE, certificate_on, certificate_max_age_days),
    )
    found = (_fault(field, on, first_day, most) for field, on, most in asked if most is not None)
    return tuple(fault for fault in found if fault)


def _fault(field: str, on: date | None, first_day: date, most: int) -> PaperFault | None:
    paper = _(PAPERS[field])
    if on is None:
        return PaperFault(field, _("The date of the {paper} is not given.").format(paper=paper))
    age = (first_day - on).days
    if age < 0:
        return PaperFault(
            field, _("The date of the {paper} is after the show's first day.").format(paper=paper)
        )
    if age > most:
        words = ngettext(
            "The date of the {paper} is older than this show asks ({age} day before its first "
            "day; it asks for {most} at most).",
            "The date of the {paper} is older than this show asks ({age} days before its first "
            "day; it asks for {most} at most).",
            age,
        )
        return PaperFault(field, words.format(paper=paper, age=age, most=most))
    return None


def faults_of_animals(animals: Sequence[AnimalFacts], *, today: date) -> dict[tuple[int, str], str]:
    """List what cannot be kept, by the animal's place in the list (from 0) and its field.

    A paper that is older than the show asks is kept all the same; `paper_faults` says so.

    Parameters
    ----------
    animals : sequence of AnimalFacts
        At most `ANIMALS_MAX`.
    today : date
        The day it is where the show is; no paper carries a later date.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> faults_of_animals([AnimalFacts("Dolly", eia_tested_on=date(2027, 2, 2))],
    ...     today=date(2027, 2, 1))
    {(0, 'eia_tested_on'): 'This date lies ahead; a paper carries the day it was made.'}
    """
    found: dict[tuple[int, str], str] = {}
    seen: set[str] = set()
    for place, animal in enumerate(animals):
        for field, sentence in _faults_of_one(animal, today).items():
            found[place, field] = sentence
        if same_name(animal.name) in seen:
            found.setdefault((place, "name"), _("This name stands in the list already."))
        seen.add(same_name(animal.name))
    if len(animals) > ANIMALS_MAX:
        found[ANIMALS_MAX, "name"] = _("An entry lists {most} animals at most.").format(
            most=ANIMALS_MAX
        )
    return found


def _faults_of_one(animal: AnimalFacts, today: date) -> dict[str, str]:
    ahead = _("This date lies ahead; a paper carries the day it was made.")
    found = {
        "name": _("Each animal needs a name.") if not animal.name.strip() else "",
        "kind": "" if animal.kind in KINDS else _("Horse, mule or other, please."),
        "description": fault_of_text(_("The description"), animal.description, DESCRIPTION_MAX),
        EIA: ahead if animal.eia_tested_on and animal.eia_tested_on > today else "",
        CERTIFICATE: ahead if animal.certificate_on and animal.certificate_on > today else "",
    }
    found["name"] = found["name"] or fault_of_text(_("The name"), animal.name, ANIMAL_NAME_MAX)
    return {field: sentence for field, sentence in found.items() if sentence}
