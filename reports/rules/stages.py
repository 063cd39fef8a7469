"""The stages of a show day in order: what is done, what is next, and where it is done."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum


class State(StrEnum):
    """Where a stage stands. Only one stage is `NOW`: the first that must be done and is not."""

    DONE = "done"
    NOW = "now"
    LATER = "later"
    OPTIONAL = "optional"


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


@dataclass(frozen=True)
class Stage:
    """One stage of the day.

    Attributes
    ----------
    code, name : str
    state : State
    sentence : str
        What there is to do, or what was done.
    page : str
        Name of the page that does it.
    action : str
        What the link to that page says.
    """

    code: str
    name: str
    state: State
    sentence: str
    page: str
    action: str


def stages(counts: Counts) -> tuple[Stage, ...]:
    """Lay out the show day: which stages are done, which is next, and which come later.

    Parameters
    ----------
    counts : Counts

    Returns
    -------
    tuple of Stage, shape (13,)
        In the order of the day, whatever was done early.

    Notes
    -----
    The first stage that is not done is `State.NOW`, later ones that are not done are
    `State.LATER`. Norming is never in the way: until it is done it is `State.OPTIONAL`. A stage
    done early (a phone paired before the window is published) stays done. Entries left
    undecided no longer stand in the way once a judge has begun a card, because the panel is not
    drawn again from then on.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> day = stages(Counts(entries_confirmed=2, entries_to_confirm=1))
    >>> [(stage.code, stage.state.value) for stage in day[:2]]
    [('entries', 'now'), ('scorecard', 'later')]
    >>> day[0].sentence
    '1 entry waits to be confirmed; 2 are.'
    """
    found = [(step, *step.tell(counts)) for step in _DAY]
    ahead = next((step.code for step, done, _ in found if not done and not step.optional), None)
    return tuple(
        Stage(
            code=step.code,
            name=step.name,
            state=_state(step, done, ahead),
            sentence=sentence,
            page=step.page,
            action=step.action,
        )
        for step, done, sentence in found
    )


def next_stage(day: Sequence[Stage]) -> Stage | None:
    """Return the stage to work on, None when the day is done.

    Examples
    --------
    >>> next_stage(stages(Counts())).sentence
    'No entry is confirmed yet.'
    """
    return next((stage for stage in day if stage.state is State.NOW), None)


Told = tuple[bool, str]


@dataclass(frozen=True)
class _Step:
    code: str
    name: str
    page: str
    action: str
    tell: Callable[[Counts], Told]
    optional: bool = False


def _state(step: _Step, done: bool, ahead: str | None) -> State:
    if done:
        return State.DONE
    if step.optional:
        return State.OPTIONAL
    return State.NOW if step.code == ahead else State.LATER


def _n(count: int, one: str, many: str) -> str:
    """Write a count with its noun."""
    return f"{count} {one if count == 1 else many}"


def _entries(c: Counts) -> Told:
    if not c.entries_confirmed:
        waiting = _n(c.entries_to_confirm, "entry waits", "entries wait")
        return False, (
            f"{waiting} to be confirmed." if c.entries_to_confirm else "No entry is confirmed yet."
        )
    if c.entries_to_confirm and not c.cards_begun:
        waiting = _n(c.entries_to_confirm, "entry waits", "entries wait")
        is_or_are = "is" if c.entries_confirmed == 1 else "are"
        return False, f"{waiting} to be confirmed; {c.entries_confirmed} {is_or_are}."
    return True, f"{_n(c.entries_confirmed, 'entry', 'entries')} confirmed."


def _scorecard(c: Counts) -> Told:
    if not c.has_scorecard:
        return False, "The show has no scorecard yet; it comes in when the show is set up."
    if c.classes_undeclared:
        names = ", ".join(c.classes_undeclared)
        return False, f"It is not declared yet how these classes are judged: {names}."
    return True, "The scorecard is in, and every class says how it is judged."


def _judges(c: Counts) -> Told:
    if not c.judges:
        return False, "No judge is engaged yet."
    if c.sections_short:
        name, have, need = c.sections_short[0]
        more = len(c.sections_short) - 1
        tail = f" {_n(more, 'more section is', 'more sections are')} short too." if more else ""
        return False, f"{name} needs {_n(need, 'judge', 'judges')} and has {have}.{tail}"
    return True, f"{_n(c.judges, 'judge', 'judges')} engaged."


def _panel(c: Counts) -> Told:
    if not c.seats:
        return False, "The panel is not drawn yet."
    if c.seats_missing:
        lack = _n(c.seats_missing, "seat is", "seats are")
        if c.cards_begun or c.window_published:
            return False, f"{lack} missing; mend the panel, which keeps the announced times."
        return False, f"{lack} missing since the draw; draw the panel again."
    return True, f"{_n(c.seats, 'seat', 'seats')} drawn."


def _sized(c: Counts) -> Told:
    if not c.window_sized:
        return False, "The window is not sized to the wagons yet."
    minutes = f"{c.minutes_needed} of {c.minutes_available} minutes"
    if c.minutes_needed > c.minutes_available:
        short = c.minutes_needed - c.minutes_available
        return False, (
            f"The visits need {c.minutes_needed} minutes, {short} more than there are; "
            "take one of the ways out."
        )
    return True, f"The visits need {minutes}."


def _published(c: Counts) -> Told:
    if c.window_published:
        return True, "Exhibitors and judges see their times."
    return False, "Publish the times, so that exhibitors and judges see them."


def _phones(c: Counts) -> Told:
    if not c.judges_seated:
        return False, "Phones are paired when the panel is drawn."
    told = f"{c.judges_paired} of {_n(c.judges_seated, 'judge has', 'judges have')} a paired phone."
    return c.judges_paired >= c.judges_seated, told


def _norming(c: Counts) -> Told:
    if not c.practice_set_up:
        return False, (
            "No practice wagon was set up."
            if c.cards_begun
            else "If you like: let every judge mark one practice wagon before the round."
        )
    told = f"{c.practice_marked} of {_n(c.practice_judges, 'judge has', 'judges have')} marked it"
    if not c.practice_open:
        return True, f"The practice wagon is closed; {told}."
    done = bool(c.practice_judges) and c.practice_marked >= c.practice_judges
    return done, f"The practice wagon is set up; {told}."


def _judging(c: Counts) -> Told:
    if not c.cards_expected:
        return False, "Judges hand their cards in."
    told = f"{c.cards_in} of {_n(c.cards_expected, 'card is', 'cards are')} in"
    left = c.cards_expected - c.cards_in
    if left > 0:
        return False, f"{told}; {left} to come."
    return True, f"{told}."


def _questions(c: Counts) -> Told:
    if c.questions_open:
        waiting = _n(c.questions_open, "question waits", "questions wait")
        return False, f"{waiting} for a judge's answer."
    if not _judging(c)[0]:
        return False, "The checks run when the cards are in."
    if not c.checks_current:
        return False, "The checks have not run since the last card came in; run them."
    return True, "The checks ran; no question is open."


def _of_classes(count: int, c: Counts, word: str) -> str:
    return f"{count} of {_n(c.classes_judged, 'class', 'classes')} {word}"


def _signed(c: Counts) -> Told:
    if c.classes_judged and c.results_signed >= c.classes_judged:
        return True, f"{_of_classes(c.results_signed, c, 'signed by two hands')}."
    if not c.results_computed:
        return False, "Compute the results; two people then sign each."
    if c.results_computed < c.classes_judged:
        return False, f"{_of_classes(c.results_computed, c, 'computed')}; compute the others."
    return False, f"{_of_classes(c.results_signed, c, 'signed by two hands')}."


def _released(c: Counts) -> Told:
    if c.classes_judged and c.results_released >= c.classes_judged:
        return True, f"{_of_classes(c.results_released, c, 'released')}; everybody may read them."
    if not c.results_released:
        return False, "Nobody outside the office sees a result before its release."
    return False, f"{_of_classes(c.results_released, c, 'released')}."


def _papers(c: Counts) -> Told:
    if c.papers_failed:
        return False, f"{_n(c.papers_failed, 'paper', 'papers')} could not be drawn."
    if c.papers_waiting:
        return False, (
            f"{c.papers_made} of {_n(c.papers_made + c.papers_waiting, 'paper', 'papers')} made."
        )
    if c.classes_on_paper and c.classes_on_paper >= c.classes_judged:
        return True, f"{_n(c.papers_made, 'paper', 'papers')} made."
    if c.classes_on_paper:
        return False, f"{_of_classes(c.classes_on_paper, c, 'on paper')}."
    return False, "Award and feedback sheets are made from released results."


_DAY = (
    _Step("entries", "Entries confirmed", "entries:office-entries", "Confirm entries", _entries),
    _Step("scorecard", "Scorecard", "judging:scorecard", "Look at the scorecard", _scorecard),
    _Step("judges", "Judges engaged", "judging:judges", "Engage judges", _judges),
    _Step("panel", "Panel drawn", "judging:panel", "Draw the panel", _panel),
    _Step("window", "Window sized", "judging:window", "Size the window", _sized),
    _Step("published", "Window published", "judging:window", "Publish the window", _published),
    _Step("phones", "Phones paired", "judging:judges", "Pair phones", _phones),
    _Step("norming", "Norming", "judging:norming", "Go to norming", _norming, optional=True),
    _Step("judging", "Judging", "judging:progress", "Watch the cards come in", _judging),
    _Step("questions", "Questions answered", "judging:questions", "Go to questions", _questions),
    _Step("signed", "Results signed", "judging:office-results", "Compute and sign", _signed),
    _Step("released", "Results released", "judging:office-results", "Release results", _released),
    _Step("papers", "Papers made", "reports:papers", "Make papers", _papers),
)
