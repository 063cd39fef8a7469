"""Which of two touches on the same row of a card stands."""

from __future__ import annotations

from dataclasses import dataclass

from judging.rules.cards.scorecard import Mark
from judging.rules.round.events import EventRefused


@dataclass(frozen=True)
class Standing:
    """What a row has now, and the touch that gave it.

    `device` is None when the office wrote it, `shut_out` when that phone no longer counts;
    `given` is the mark (None after it was taken back) or the remark's text.
    """

    device: int | None
    seq: int
    given: Mark | str | None
    shut_out: bool = False


def takes_effect(
    standing: Standing | None, *, device: int, seq: int, given: Mark | str | None
) -> bool:
    """Say whether a touch replaces what stands; older touches of the same phone do not.

    Parameters
    ----------
    standing : Standing or None
        What the row has now.
    device, seq : int
        The phone, and the touch's place in the phone's own count.
    given : Mark, str or None
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
