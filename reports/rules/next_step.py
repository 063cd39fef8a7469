"""What an exhibitor does next: the one thing first, then what else is open."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from entries.rules.money_words import dollars
from entries.rules.places import Status
from showrun.language import gettext as _
from showrun.language import ngettext


class Where(StrEnum):
    """Where a step is done: a part of the entry's page, or a page of its own."""

    NOWHERE = ""
    PLACE = "place"
    DETAILS = "details"
    BALANCE = "balance"
    VISITS = "visits"
    RESULTS = "results"
    PREPARE = "prepare"


@dataclass(frozen=True)
class Step:
    """A sentence, and the button that leads there; `more` is an anchor within that page."""

    sentence: str
    button: str = ""
    where: Where = Where.NOWHERE
    more: str = ""


@dataclass(frozen=True)
class Stand:
    """All that decides what comes next.

    Attributes
    ----------
    status : Status
    in_line : int or None
        On the wait list.
    offered_until : str
        The deadline of an offered place as it is said; empty when it has run out.
    lacks : tuple of (str, str)
        What the entry still lacks, each a sentence, and the anchor where it is filled in.
    owed : int [cents]
    visit : str
        The next visit of a judge, as it is said.
    visit_today : bool
    judged : bool
        All visits announced are over.
    places : tuple of str
        What came of the classes released so far, in words.
    unreleased : int
        Classes that are not released yet.
    """

    status: Status
    in_line: int | None = None
    offered_until: str = ""
    lacks: tuple[tuple[str, str], ...] = ()
    owed: int = 0
    visit: str = ""
    visit_today: bool = False
    judged: bool = False
    places: tuple[str, ...] = ()
    unreleased: int = 0


def next_steps(stand: Stand) -> tuple[Step, ...]:
    """List what an exhibitor does next, the most pressing first; never nothing.

    Parameters
    ----------
    stand : Stand

    Notes
    -----
    An offered place runs out, so it comes first; then what is new and final, the results; on the
    day itself the judge; then what the entry lacks and what is owed; then waiting.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> lacks = (("The waiver is not agreed to.", "waiver_agreed_by"),)
    >>> steps = next_steps(Stand(Status.CONFIRMED, lacks=lacks, owed=15000))
    >>> [step.sentence for step in steps]
    ['Still missing: The waiver is not agreed to.', 'You owe the show $150.00.']
    >>> next_steps(Stand(Status.ENTERED))[0].sentence
    'Nothing to do now: the office confirms your entry next.'
    """
    if stand.status is Status.SCRATCHED:
        words = _("This entry is scratched; there is nothing to do.")
        return (Step(words), *_owed(stand))
    steps = [*_offer(stand), *_results(stand)]
    lacking = [] if stand.places or stand.judged else [*_lacks(stand)]
    if stand.visit_today:
        steps += [*_visit(stand), *lacking, *_owed(stand)]
    else:
        steps += [*lacking, *_owed(stand), *_visit(stand)]
    return tuple(steps) or (_nothing(stand),)


def _offer(stand: Stand) -> list[Step]:
    if stand.status is not Status.OFFERED:
        return []
    if not stand.offered_until:
        return [Step(_("The offered place has run out; it goes to the next in line."))]
    words = _("A place is offered to you. Take it up by {deadline}.").format(
        deadline=stand.offered_until
    )
    return [Step(words, _("Take the place up or decline it"), Where.PLACE)]


def _results(stand: Stand) -> list[Step]:
    if not stand.places:
        return []
    words = _("Results are out: {places}.").format(places="; ".join(stand.places))
    if stand.unreleased:
        to_come = ngettext(
            "One class is still to come.", "{n} classes are still to come.", stand.unreleased
        ).format(n=stand.unreleased)
        words = f"{words} {to_come}"
    return [Step(words, _("See results and feedback"), Where.RESULTS)]


def _visit(stand: Stand) -> list[Step]:
    if not stand.visit or (stand.places and not stand.unreleased):
        return []
    words = _("A judge comes {visit}. Have the wagon and the crew ready.").format(visit=stand.visit)
    return [Step(words, _("See all times"), Where.VISITS)]


def _lacks(stand: Stand) -> list[Step]:
    if not stand.lacks:
        return []
    (what, where), count = stand.lacks[0], len(stand.lacks)
    words = _("Still missing: {what}").format(what=what)
    if count > 1:
        words = _("{count} things are still missing. The first: {what}").format(
            count=count, what=what
        )
    return [Step(words, _("Fill it in"), Where.DETAILS, where)]


def _owed(stand: Stand) -> list[Step]:
    if stand.owed <= 0:
        return []
    words = _("You owe the show {amount}.").format(amount=dollars(stand.owed))
    return [Step(words, _("See what is owed"), Where.BALANCE)]


def _nothing(stand: Stand) -> Step:
    if stand.status is Status.WAITING:
        then = _("A place that comes free is offered to you here.")
        now = _("Nothing to do now: you are in line.")
        if stand.in_line:
            now = _("Nothing to do now: you are number {number} in line.").format(
                number=stand.in_line
            )
        return Step(f"{now} {then}")
    if stand.status is Status.ENTERED:
        return Step(_("Nothing to do now: the office confirms your entry next."))
    if stand.judged:
        return Step(_("Judging is over for your wagon. Results stand here once they are released."))
    words = _("Get your rig ready: the list says what judges look at on it, and how to show it.")
    return Step(words, _("What to prepare"), Where.PREPARE)
