"""Planning a show: who may, at what address it stands, and the classes it is planned with."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Iterable
from datetime import date

from showrun.language import gettext as _

LONGEST_ADDRESS = 50  # characters
MOST_CLASSES = 40  # of a show


def may_plan(email: str, *, runs_an_office: bool, named: Collection[str]) -> bool:
    """Say whether somebody signed in may plan a show on this service.

    Parameters
    ----------
    email : str
        The person's address.
    runs_an_office : bool
        Whether the person runs the office of any show here.
    named : collection of str
        Addresses whoever runs the service has named; capitals do not count.

    Returns
    -------
    bool
        True for those named and for every office. Whoever has just signed up is neither, so the
        first show of a service needs a name.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> may_plan("a@showrun.example", runs_an_office=False, named=[])
    False
    >>> may_plan("A@showrun.example", runs_an_office=False, named=["a@showrun.example"])
    True
    """
    return runs_an_office or email.lower() in {one.lower() for one in named}


def fault_of_days(starts_on: date, ends_on: date, judged_on: date) -> dict[str, str]:
    """Say which of a show's days cannot be, a sentence at its field; nothing when all can.

    Parameters
    ----------
    starts_on, ends_on, judged_on : date
        First and last day, and the day judging begins, where the show is.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> friday, sunday = date(2027, 5, 14), date(2027, 5, 16)
    >>> fault_of_days(friday, sunday, date(2027, 5, 15))
    {}
    >>> fault_of_days(sunday, friday, sunday)
    {'ends_on': 'The show ends before it starts.'}
    >>> fault_of_days(friday, sunday, date(2027, 5, 17))
    {'judged_on': 'The judging falls outside the show’s days.'}
    """
    if ends_on < starts_on:
        return {"ends_on": _("The show ends before it starts.")}
    if not starts_on <= judged_on <= ends_on:
        return {"judged_on": _("The judging falls outside the show’s days.")}
    return {}


def show_slug(name: str, year: int, taken: Collection[str]) -> str:
    """Make the address of a show from its name and year, one that no other show has.

    Parameters
    ----------
    name : str
    year : int
        The year of its first day.
    taken : collection of str
        Addresses that are in use.

    Returns
    -------
    str
        Small letters, digits and dashes, at most 50 of them.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> show_slug("Lantern Draw Days", 2027, [])
    'lantern-draw-days-2027'
    >>> show_slug("Lantern Draw Days", 2027, ["lantern-draw-days-2027"])
    'lantern-draw-days-2027-2'
    """
    first = _dashed(name, LONGEST_ADDRESS - len(f"-{year}")) or "show"
    address, n = f"{first}-{year}", 1
    while address in taken:
        n += 1
        tail = f"-{year}-{n}"
        address = first[: LONGEST_ADDRESS - len(tail)].rstrip("-") + tail
    return address


def classes_in(lines: Iterable[str], taken: Collection[str] = ()) -> list[dict[str, str]]:
    """Read classes, one a line; lines that are empty or stand there twice count once or not.

    Parameters
    ----------
    lines : iterable of str
    taken : collection of str
        Codes that other classes of the show have.

    Returns
    -------
    list of dict
        `name`, and a `code` that is not taken and no other class of the list has.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> classes_in(["Trail wagon", "", "Ranch wagon", "Trail wagon"])
    [{'code': 'trail_wagon', 'name': 'Trail wagon'}, {'code': 'ranch_wagon', 'name': 'Ranch wagon'}]
    """
    names = dict.fromkeys(" ".join(line.split()) for line in lines)
    found: dict[str, str] = {}
    for name in filter(None, names):
        first = _dashed(name, LONGEST_ADDRESS - 3).replace("-", "_") or "class"
        code, n = first, 1
        while code in found or code in taken:
            n += 1
            code = f"{first}_{n}"
        found[code] = name
    return [{"code": code, "name": name} for code, name in found.items()]


def _dashed(words: str, longest: int) -> str:
    """Write words in small letters with dashes between them, accents left out."""
    plain = unicodedata.normalize("NFKD", words).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:longest].rstrip("-")
