"""The stages of a show day in order: what is done, what is next, and where it is done."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from reports.rules.stage_words import TELLING, Counts
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_


class State(StrEnum):
    """Where a stage stands. Only one stage is `NOW`: the first that must be done and is not."""

    DONE = N_("done")
    NOW = N_("now")
    LATER = N_("later")
    OPTIONAL = N_("optional")


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
    found = [(step, *TELLING[step.code](counts)) for step in _DAY]
    ahead = next((step.code for step, done, _said in found if not done and not step.optional), None)
    return tuple(
        Stage(
            code=step.code,
            name=_(step.name),
            state=_state(step, done, ahead),
            sentence=sentence,
            page=step.page,
            action=_(step.action),
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


@dataclass(frozen=True)
class _Step:
    code: str
    name: str
    page: str
    action: str
    optional: bool = False


def _state(step: _Step, done: bool, ahead: str | None) -> State:
    if done:
        return State.DONE
    if step.optional:
        return State.OPTIONAL
    return State.NOW if step.code == ahead else State.LATER


_DAY = (
    _Step("entries", N_("Entries confirmed"), "entries:office-entries", N_("Confirm entries")),
    _Step("scorecard", N_("Scorecard"), "judging:scorecard", N_("Look at the scorecard")),
    _Step("judges", N_("Judges engaged"), "judging:judges", N_("Engage judges")),
    _Step("panel", N_("Panel drawn"), "judging:panel", N_("Draw the panel")),
    _Step("window", N_("Window sized"), "judging:window", N_("Size the window")),
    _Step("published", N_("Window published"), "judging:window", N_("Publish the window")),
    _Step("phones", N_("Phones paired"), "judging:judges", N_("Pair phones")),
    _Step("norming", N_("Norming"), "judging:norming", N_("Go to norming"), optional=True),
    _Step("judging", N_("Judging"), "judging:progress", N_("Watch the cards come in")),
    _Step("questions", N_("Questions answered"), "judging:questions", N_("Go to questions")),
    _Step("signed", N_("Results signed"), "judging:office-results", N_("Compute and sign")),
    _Step("released", N_("Results released"), "judging:office-results", N_("Release results")),
    _Step("papers", N_("Papers made"), "reports:papers", N_("Make papers")),
)
