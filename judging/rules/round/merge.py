"""Which of two touches on the same row of a card stands, and which rigs a touch may go by."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from entries.rules.rig import Rig
from judging.rules.cards.scorecard import Mark
from judging.rules.round.events import EventRefused

Facts = Mapping[str, str]
# A mark, a remark's text or a rig; None takes a mark back.
Touched = Mark | str | Rig | None


@dataclass(frozen=True)
class Standing:
    """What a row has now, and the touch that gave it.

    `device` is None when the office wrote it, `shut_out` when that phone no longer counts;
    `given` is the mark (None after it was taken back), the remark's text or the rig.
    """

    device: int | None
    seq: int
    given: Touched
    shut_out: bool = False


@dataclass(frozen=True)
class RigTouch:
    """A rig as a judge reported it: by which phone, and where in the phone's own count."""

    device: int
    seq: int
    facts: Facts


def takes_effect(standing: Standing | None, *, device: int, seq: int, given: Touched) -> bool:
    """Say whether a touch replaces what stands; older touches of the same phone do not.

    Parameters
    ----------
    standing : Standing or None
        What the row has now.
    device, seq : int
        The phone, and the touch's place in the phone's own count.
    given : Mark, str, Rig or None
        What the touch gives; None takes the mark back.

    Returns
    -------
    bool
        False for a touch that arrives after a later one of the same phone: it is history.

    Raises
    ------
    EventRefused
        ``other-device`` when another phone, or the office, gave the row something else: both
        are kept and a person decides. A phone that was shut out yields.

    Notes
    -----
    A phone's clock is a claim; its count is not. Order is by count, never by clock, so any
    order of arrival ends in the same card.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> takes_effect(None, device=1, seq=5, given=None)
    True
    >>> takes_effect(Standing(1, 9, None), device=1, seq=5, given="dry leather")
    False
    """
    if standing is None:
        return True
    if standing.device == device:
        return seq > standing.seq
    if standing.given == given:
        return False
    if standing.shut_out:
        return True
    raise EventRefused(
        "other-device",
        "Another phone or the office wrote something else here; the office decides.",
    )


def rigs_had(
    entered: Iterable[Facts], reported: Iterable[RigTouch], *, device: int, seq: int
) -> list[Facts]:
    """List the rigs by which a phone may have shown a card up to one of its touches.

    A mark on a row that one of them has is taken, on a row that none has it is held.

    Parameters
    ----------
    entered : iterable of mapping
        The rig as it is entered now, and as it was before the office adopted another.
    reported : iterable of RigTouch
        What the judge's phones reported of this entry.
    device, seq : int
        The phone, and the touch's place in the phone's own count.

    Returns
    -------
    list of mapping
        All that was entered, what this phone reported before the touch, and whatever the
        judge's other phones reported.

    Notes
    -----
    Which of these the phone showed at that very touch is not asked. If it were, a report that
    arrives late could take back a mark that stands, and the order of arrival would count. So
    the list only grows as reports arrive: a mark taken stays taken, one held is weighed again.
    A mark that is taken, on a row the card no longer has, is kept aside.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> drop, stiff = {"tongue": "drop"}, {"tongue": "stiff"}
    >>> rigs_had([drop], [RigTouch(1, 5, stiff)], device=1, seq=4)
    [{'tongue': 'drop'}]
    >>> rigs_had([drop], [RigTouch(1, 5, stiff)], device=1, seq=6)
    [{'tongue': 'drop'}, {'tongue': 'stiff'}]
    """
    known = [one.facts for one in reported if one.device != device or one.seq < seq]
    return [*entered, *known]
