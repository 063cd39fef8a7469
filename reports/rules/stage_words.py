"""What each stage of a show day says of itself: what there is to do, or what was done."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from showrun.language import gettext as _
from showrun.language import ngettext


@dataclass(frozen=True)
class Counts:
    """How far the show is, as plain counts; everything is nought in an empty show.

    Attributes
    ----------
    entries_confirmed, entries_to_confirm : int
    has_scorecard : bool
    classes_undeclared : tuple of str
        Names of classes for which it is not declared how they are judged.
    judges : int
        Judges engaged.
    sections_short : tuple of (str, int, int)
        Section name, judges engaged for it, judges each entry needs there.
    seats, seats_missing : int
        Seats drawn, and seats that confirmed entries still lack.
    window_sized, window_published : bool
    minutes_needed, minutes_available : int
        Of the sized window.
    judges_seated, judges_paired : int
        Judges with a seat, and those of them with a paired phone.
    practice_set_up, practice_open : bool
        Whether there is a practice wagon, and whether judges can mark it now.
    practice_judges, practice_marked : int
        Judges at the practice wagon, and those of them whose card of it is handed in.
    cards_begun, cards_in, cards_expected : int
    checks_current : bool
        Whether the checks ran after the last card came in.
    questions_open : int
    classes_judged : int
        Declared classes with at least one confirmed entry.
    results_computed, results_signed, results_released : int
        Of their newest versions; signed means by as many hands as are needed.
    classes_on_paper : int
        Classes whose released result has papers.
    papers_made, papers_waiting, papers_failed : int
        Of the released results.
    """

    entries_confirmed: int = 0
    entries_to_confirm: int = 0
    has_scorecard: bool = False
    classes_undeclared: tuple[str, ...] = ()
    judges: int = 0
    sections_short: tuple[tuple[str, int, int], ...] = ()
    seats: int = 0
    seats_missing: int = 0
    window_sized: bool = False
    window_published: bool = False
    minutes_needed: int = 0
    minutes_available: int = 0
    judges_seated: int = 0
    judges_paired: int = 0
    practice_set_up: bool = False
    practice_open: bool = False
    practice_judges: int = 0
    practice_marked: int = 0
    cards_begun: int = 0
    cards_in: int = 0
    cards_expected: int = 0
    checks_current: bool = False
    questions_open: int = 0
    classes_judged: int = 0
    results_computed: int = 0
    results_signed: int = 0
    results_released: int = 0
    classes_on_paper: int = 0
    papers_made: int = 0
    papers_waiting: int = 0
    papers_failed: int = 0


Told = tuple[bool, str]


def _entries(c: Counts) -> Told:
    waiting, confirmed = c.entries_to_confirm, c.entries_confirmed
    if not confirmed:
        if not waiting:
            return False, _("No entry is confirmed yet.")
        return False, ngettext(
            "{n} entry waits to be confirmed.", "{n} entries wait to be confirmed.", waiting
        ).format(n=waiting)
    if waiting and not c.cards_begun:
        wait = ngettext(
            "{n} entry waits to be confirmed", "{n} entries wait to be confirmed", waiting
        ).format(n=waiting)
        return False, ngettext("{wait}; {n} is.", "{wait}; {n} are.", confirmed).format(
            wait=wait, n=confirmed
        )
    told = ngettext("{n} entry confirmed.", "{n} entries confirmed.", confirmed)
    return True, told.format(n=confirmed)


def _scorecard(c: Counts) -> Told:
    if not c.has_scorecard:
        return False, _("The show has no scorecard yet; it comes in when the show is set up.")
    if c.classes_undeclared:
        told = _("It is not declared yet how these classes are judged: {names}.")
        return False, told.format(names=", ".join(c.classes_undeclared))
    return True, _("The scorecard is in, and every class says how it is judged.")


def _judges(c: Counts) -> Told:
    if not c.judges:
        return False, _("No judge is engaged yet.")
    # Who left after the cards were in, or was replaced where it mattered, is missed no more.
    if c.sections_short and (c.seats_missing or not c.seats):
        name, have, need = c.sections_short[0]
        told = ngettext(
            "{section} needs {n} judge and has {have}.",
            "{section} needs {n} judges and has {have}.",
            need,
        ).format(section=name, n=need, have=have)
        more = len(c.sections_short) - 1
        if more:
            tail = ngettext(
                "{n} more section is short too.", "{n} more sections are short too.", more
            ).format(n=more)
            told = f"{told} {tail}"
        return False, told
    return True, ngettext("{n} judge engaged.", "{n} judges engaged.", c.judges).format(n=c.judges)


def _panel(c: Counts) -> Told:
    if not c.seats:
        return False, _("The panel is not drawn yet.")
    lack = c.seats_missing
    if not lack:
        return True, ngettext("{n} seat drawn.", "{n} seats drawn.", c.seats).format(n=c.seats)
    if c.cards_begun or c.window_published:
        told = ngettext(
            "{n} seat is missing; mend the panel, which keeps the announced times.",
            "{n} seats are missing; mend the panel, which keeps the announced times.",
            lack,
        )
    else:
        told = ngettext(
            "{n} seat is missing since the draw; draw the panel again.",
            "{n} seats are missing since the draw; draw the panel again.",
            lack,
        )
    return False, told.format(n=lack)


def _sized(c: Counts) -> Told:
    if not c.window_sized:
        return False, _("The window is not sized to the wagons yet.")
    need, there = c.minutes_needed, c.minutes_available
    if need > there:
        told = _(
            "The visits need {need} minutes, {short} more than there are; take one of the ways out."
        )
        return False, told.format(need=need, short=need - there)
    told = _("The visits need {need} of {there} minutes.")
    return True, told.format(need=need, there=there)


def _published(c: Counts) -> Told:
    if c.window_published:
        return True, _("Exhibitors and judges see their times.")
    return False, _("Publish the times, so that exhibitors and judges see them.")


def _phones(c: Counts) -> Told:
    if not c.judges_seated:
        return False, _("Phones are paired when the panel is drawn.")
    told = ngettext(
        "{paired} of {n} judge has a paired phone.",
        "{paired} of {n} judges have a paired phone.",
        c.judges_seated,
    ).format(paired=c.judges_paired, n=c.judges_seated)
    return c.judges_paired >= c.judges_seated, told


def _norming(c: Counts) -> Told:
    if not c.practice_set_up:
        if c.cards_begun:
            return False, _("No practice wagon was set up.")
        return False, _("If you like: let every judge mark one practice wagon before the round.")
    done = bool(c.practice_judges) and c.practice_marked >= c.practice_judges
    if c.practice_open:
        told = ngettext(
            "The practice wagon is set up; {marked} of {n} judge has marked it.",
            "The practice wagon is set up; {marked} of {n} judges have marked it.",
            c.practice_judges,
        )
    else:
        told = ngettext(
            "The practice wagon is closed; {marked} of {n} judge has marked it.",
            "The practice wagon is closed; {marked} of {n} judges have marked it.",
            c.practice_judges,
        )
    told = told.format(marked=c.practice_marked, n=c.practice_judges)
    return done or not c.practice_open, told


def _judging(c: Counts) -> Told:
    if not c.cards_expected:
        return False, _("Judges hand their cards in.")
    expected, left = c.cards_expected, c.cards_expected - c.cards_in
    if left > 0:
        told = ngettext(
            "{cards} of {n} card is in; {left} to come.",
            "{cards} of {n} cards are in; {left} to come.",
            expected,
        )
        return False, told.format(cards=c.cards_in, n=expected, left=left)
    told = ngettext("{cards} of {n} card is in.", "{cards} of {n} cards are in.", expected)
    return True, told.format(cards=c.cards_in, n=expected)


def _questions(c: Counts) -> Told:
    if c.questions_open:
        told = ngettext(
            "{n} question waits for a judge's answer.",
            "{n} questions wait for a judge's answer.",
            c.questions_open,
        )
        return False, told.format(n=c.questions_open)
    if not _judging(c)[0]:
        return False, _("The checks run when the cards are in.")
    if not c.checks_current:
        return False, _("The checks have not run since the last card came in; run them.")
    return True, _("The checks ran; no question is open.")


def _signed(c: Counts) -> Told:
    classes = c.classes_judged
    signed = ngettext(
        "{signed} of {n} class signed by two hands.",
        "{signed} of {n} classes signed by two hands.",
        classes,
    ).format(signed=c.results_signed, n=classes)
    if classes and c.results_signed >= classes:
        return True, signed
    if not c.results_computed:
        return False, _("Compute the results; two people then sign each.")
    if c.results_computed < classes:
        told = ngettext(
            "{computed} of {n} class computed; compute the others.",
            "{computed} of {n} classes computed; compute the others.",
            classes,
        )
        return False, told.format(computed=c.results_computed, n=classes)
    return False, signed


def _released(c: Counts) -> Told:
    released, classes = c.results_released, c.classes_judged
    if classes and released >= classes:
        told = ngettext(
            "{released} of {n} class released; everybody may read them.",
            "{released} of {n} classes released; everybody may read them.",
            classes,
        )
        return True, told.format(released=released, n=classes)
    if not released:
        return False, _("Nobody outside the office sees a result before its release.")
    told = ngettext(
        "{released} of {n} class released.", "{released} of {n} classes released.", classes
    )
    return False, told.format(released=released, n=classes)


def _papers(c: Counts) -> Told:
    made, classes = c.papers_made, c.classes_judged
    if c.papers_failed:
        told = ngettext(
            "{n} paper could not be drawn.", "{n} papers could not be drawn.", c.papers_failed
        )
        return False, told.format(n=c.papers_failed)
    if c.papers_waiting:
        all_told = made + c.papers_waiting
        told = ngettext("{made} of {n} paper made.", "{made} of {n} papers made.", all_told)
        return False, told.format(made=made, n=all_told)
    if c.classes_on_paper and c.classes_on_paper >= classes:
        return True, ngettext("{n} paper made.", "{n} papers made.", made).format(n=made)
    if c.classes_on_paper:
        told = ngettext(
            "{there} of {n} class on paper.", "{there} of {n} classes on paper.", classes
        )
        return False, told.format(there=c.classes_on_paper, n=classes)
    return False, _("Award and feedback sheets are made from released results.")


# By the code of the stage: whether it is done, and what it says.
TELLING: Mapping[str, Callable[[Counts], Told]] = {
    "entries": _entries,
    "scorecard": _scorecard,
    "judges": _judges,
    "panel": _panel,
    "window": _sized,
    "published": _published,
    "phones": _phones,
    "norming": _norming,
    "judging": _judging,
    "questions": _questions,
    "signed": _signed,
    "released": _released,
    "papers": _papers,
}
