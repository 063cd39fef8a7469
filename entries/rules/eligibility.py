"""What an entry must say before a show can take it, and until when it takes any."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from typing import Any
from unicodedata import category

from showrun.language import clock, month
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_

CREW_MIN = 2
CREW_MAX = 6
HEAD_COOK = "head_cook"
CREW_ROLES = {HEAD_COOK: N_("head cook"), "cook": N_("cook"), "helper": N_("helper")}

# Longest texts an entry may carry [letters].
WAGON_NAME_MAX = 80
OUTFIT_MAX = 80
CREW_NAME_MAX = 120
HISTORY_MAX = 2000


def faults_of_entry(
    *,
    wagon_name: str,
    classes: Sequence[str],
    known_classes: Sequence[str],
    crew: Sequence[Mapping[str, Any]],
    outfit: str = "",
    history: str = "",
    wagons_entered: Iterable[str] = (),
) -> dict[str, str]:
    """List what is missing or wrong, one message per field; empty when the entry can be taken.

    Parameters
    ----------
    wagon_name, outfit, history : str
        At most `WAGON_NAME_MAX`, `OUTFIT_MAX` and `HISTORY_MAX` [letters].
    classes, known_classes : sequence of str
        Codes asked for, codes the show has.
    crew : sequence of mapping
        Each with `name` and `role`, and `under_age` where somebody is.
    wagons_entered : iterable of str
        Names of the wagons the same exhibitor has in the show and has not scratched.

    Source
    ------
    Crew of two to six: Farm Show Magazine, "Chuck Wagon Cook-Offs Gaining Popularity Fast",
    2004. One head cook, one entry a wagon, initials for those under age: common practice, no
    source. Lengths: our own rule.

    Examples
    --------
    >>> faults_of_entry(wagon_name="Tin Lantern", classes=["trail"], known_classes=["trail"],
    ...     crew=[{"name": "A. Moor", "role": "head_cook"}, {"name": "B. Oak", "role": "cook"}])
    {}
    """
    found = {
        **faults_of_wagon(wagon_name, outfit, history),
        **fault_of_twin(wagon_name, wagons_entered),
        "classes": _fault_of_classes(classes, known_classes),
        "crew": fault_of_crew([one for one in crew if one.get("name", "").strip()]),
    }
    return {field: sentence for field, sentence in found.items() if sentence}


def reason_against_entering(
    *,
    starts_on: date,
    ends_on: date,
    today: date,
    opens_at: datetime | None = None,
    closes_at: datetime | None = None,
    now: datetime | None = None,
) -> str | None:
    """Say why the show takes no entries now, or None while it does.

    Parameters
    ----------
    starts_on, ends_on : date
        First and last day of the show.
    today : date
        The day it is where the show is.
    opens_at, closes_at : datetime or None
        From when and until when the office takes entries; None where it has set none.
    now : datetime or None
        By the same clock as those two; None leaves them unread.

    Source
    ------
    Common practice, no source: entries close before the first wagon rolls in.

    Examples
    --------
    >>> friday, sunday = date(2027, 5, 14), date(2027, 5, 16)
    >>> reason_against_entering(starts_on=friday, ends_on=sunday, today=date(2027, 5, 13))
    >>> reason_against_entering(starts_on=friday, ends_on=sunday, today=friday)
    'This show has begun; it takes no more entries.'
    >>> reason_against_entering(starts_on=friday, ends_on=sunday, today=date(2027, 5, 1),
    ...     closes_at=datetime(2027, 4, 20, 18, 0), now=datetime(2027, 5, 1, 9, 0))
    'Entries for this show closed April 20, 2027, at 6:00 PM.'
    """
    if today > ends_on:
        return _("This show is over; it takes no more entries.")
    if today >= starts_on:
        return _("This show has begun; it takes no more entries.")
    if now is not None and opens_at is not None and now < opens_at:
        return _("Entries for this show open {when}.").format(when=_said(opens_at))
    if now is not None and closes_at is not None and now >= closes_at:
        return _("Entries for this show closed {when}.").format(when=_said(closes_at))
    return None


def _said(at: datetime) -> str:
    return _("{month} {day}, {year}, at {time}").format(
        month=month(at), day=at.day, year=at.year, time=clock(at)
    )


def same_name(name: str) -> str:
    """Return what two ways of writing one name have in common.

    Examples
    --------
    >>> same_name(" Tin  SPARROW") == same_name("tin sparrow")
    True
    """
    return " ".join(name.split()).casefold()


def fault_of_text(what: str, text: str, most: int, *, lines: bool = False) -> str:
    """Say what is wrong with a text as such: too long, or not to be printed; else nothing.

    Examples
    --------
    >>> fault_of_text("The note", "x" * 11, 10)
    'The note is longer than 10 letters.'
    """
    if len(text.strip()) > most:
        return _("{what} is longer than {most} letters.").format(what=what, most=most)
    allowed = "\n\r\t" if lines else ""
    if any(category(c) in ("Cc", "Cs") and c not in allowed for c in text):
        return _("{what} holds a sign that cannot be printed.").format(what=what)
    return ""


def faults_of_wagon(wagon_name: str, outfit: str = "", history: str = "") -> dict[str, str]:
    """List what is wrong with how a wagon is called and told of, one message per field.

    Parameters
    ----------
    wagon_name, outfit, history : str
        At most `WAGON_NAME_MAX`, `OUTFIT_MAX` and `HISTORY_MAX` [letters].

    Source
    ------
    Common practice, no source: a wagon is called out by its name. Lengths: our own rule.

    Examples
    --------
    >>> faults_of_wagon("Tin Lantern", "Moor family"), faults_of_wagon("  ")
    ({}, {'wagon_name': 'The wagon needs a name; it is called out with the results.'})
    """
    found = {
        "wagon_name": fault_of_text(_("The wagon's name"), wagon_name, WAGON_NAME_MAX)
        if wagon_name.strip()
        else _("The wagon needs a name; it is called out with the results."),
        "outfit": fault_of_text(_("The outfit's name"), outfit, OUTFIT_MAX),
        "history": fault_of_text(_("The history"), history, HISTORY_MAX, lines=True),
    }
    return {field: sentence for field, sentence in found.items() if sentence}


def fault_of_twin(wagon_name: str, entered: Iterable[str], *, own: bool = True) -> dict[str, str]:
    """Say that a wagon is entered already, under the field it stands in; nothing when it is not.

    Parameters
    ----------
    wagon_name : str
    entered : iterable of str
        Names of the same exhibitor's other wagons in the show.
    own : bool
        Whether it is said to the exhibitor.

    Source
    ------
    One entry a wagon: common practice, no source.

    Examples
    --------
    >>> fault_of_twin("TIN  lantern", ["Tin Lantern"])
    {'wagon_name': 'You have entered this wagon already.'}
    >>> fault_of_twin("Tin Lantern", ["Copper Kettle"])
    {}
    """
    if not wagon_name.strip() or same_name(wagon_name) not in {same_name(one) for one in entered}:
        return {}
    if own:
        return {"wagon_name": _("You have entered this wagon already.")}
    return {"wagon_name": _("This exhibitor has entered a wagon of this name already.")}


def _fault_of_classes(classes: Sequence[str], known: Sequence[str]) -> str:
    if not classes:
        return _("Choose at least one class.")
    unknown = [code for code in classes if code not in known]
    return _("This show has no class “{unknown}”.").format(unknown=unknown[0]) if unknown else ""


def fault_of_crew(people: Sequence[Mapping[str, Any]]) -> str:
    """Say what is wrong with a crew of these people; nothing when it is one.

    Examples
    --------
    >>> fault_of_crew([{"name": "A. Moor", "role": "head_cook"}])
    'A crew is 2 to 6 people; you named 1.'
    """
    if not CREW_MIN <= len(people) <= CREW_MAX:
        return _("A crew is {fewest} to {most} people; you named {n}.").format(
            fewest=CREW_MIN, most=CREW_MAX, n=len(people)
        )
    if any(member.get("role") not in CREW_ROLES for member in people):
        return _("Each of the crew is head cook, cook or helper.")
    if sum(member["role"] == HEAD_COOK for member in people) != 1:
        return _("Name exactly one head cook.")
    # Initials of those under age may well be the same; full names are not.
    named = [same_name(member["name"]) for member in people if not member.get("under_age")]
    if len(set(named)) < len(named):
        return _("The same name appears twice in the crew.")
    texts = (fault_of_text(_("A name in the crew"), one["name"], CREW_NAME_MAX) for one in people)
    return next((fault for fault in texts if fault), "")
