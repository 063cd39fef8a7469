"""What a class declares before judging, beside its points, and the sentences that say it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from judging.rules.cards.scorecard import NotInspected
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_


class GearCredit(StrEnum):
    """How original, restored and new gear is credited."""

    ALIKE = "alike"
    ORIGINAL_FIRST = "original_first"
    SOUNDNESS_ONLY = "soundness_only"


class Marking(StrEnum):
    """Where a judge's hand starts on a row."""

    BUILD_FROM_MIDDLE = "build_from_middle"
    DEDUCT_FROM_FULL = "deduct_from_full"


class ModernItems(StrEnum):
    """What a modern item costs."""

    HIDDEN_IS_FINE = "hidden_is_fine"
    LOSES = "loses"
    ZERO_ROW = "zero_row"


@dataclass(frozen=True)
class Policies:
    """What one class declares; years are whole years, None where the show sets none."""

    gear_credit: GearCredit = GearCredit.ALIKE
    marking: Marking = Marking.BUILD_FROM_MIDDLE
    modern_items: ModernItems = ModernItems.LOSES
    period_from: int | None = None
    period_to: int | None = None
    not_inspected: NotInspected = NotInspected.RESCALE
    note: str = ""


_GEAR = {
    GearCredit.ALIKE: N_("Original, restored and new gear can earn the same marks."),
    GearCredit.ORIGINAL_FIRST: N_(
        "Where two pieces are equally sound, original earns more than restored, "
        "and restored more than new."
    ),
    GearCredit.SOUNDNESS_ONLY: N_(
        "Gear is marked on soundness alone; whether it is original, restored or new does not count."
    ),
}
_MARKING = {
    Marking.BUILD_FROM_MIDDLE: N_(
        "Each row starts in the middle of its marks and moves up or down with what is found."
    ),
    Marking.DEDUCT_FROM_FULL: N_(
        "Each row starts at its full mark and loses for every fault found."
    ),
}
_MODERN = {
    ModernItems.HIDDEN_IS_FINE: N_(
        "A modern item out of sight costs nothing; in sight it loses marks on its row."
    ),
    ModernItems.LOSES: N_("A modern item loses marks on its row, in sight or not."),
    ModernItems.ZERO_ROW: N_("A modern item gives its row zero."),
}
_NOT_INSPECTED = {
    NotInspected.RESCALE: N_("A row that could not be inspected is left out in the same way."),
    NotInspected.ZERO: N_("A row that could not be inspected counts as zero."),
}
_NOT_APPLICABLE = N_(
    "A row that does not apply is left out; its points go to the other rows of its section."
)
_ZERO = N_("Zero is a mark: the judge looked and gave nothing.")
_PERIOD_FROM = N_("In period means {first} or later.")
_PERIOD_TO = N_("In period means up to {last}.")
_PERIOD_YEAR = N_("In period means the year {year}.")
_PERIOD = N_("In period means from {first} to {last}.")


def in_words(policies: Policies) -> tuple[str, ...]:
    """Say what a class declares, one plain sentence a policy, for judges and exhibitors alike.

    Returns
    -------
    tuple of str
        Where marks start, gear, modern items, the period (only when the show sets a year), rows
        that do not apply, rows that could not be inspected, zero, and the note as it was written.

    Notes
    -----
    The same sentences stand on the phone before the first wagon, on the public page and on the
    feedback sheet, so that nobody reads two versions of one policy.

    Source
    ------
    Common practice, no source: the choices and their words. That a class has to choose is
    printed. Original, restored and replica wagons stand in one contest: Chuckwagon Cookoff (rules
    summary), Western Heritage Classic, 2025; a show with a class for each condition: More Wyoming
    Wagons, Wheels That Won The West, 2014; authenticity as a heading of its own: Official Judging
    Guidelines (index page), Antique Automobile Club of America, 2013; judges who start in the
    middle and judges who start near the top on one panel: BBQ Brethren board threads, 2010 to
    2018; a later cut-off year at some shows: New to Chuck Wagon competitions?, CC Chuck Wagon
    blog, written 2006.

    Examples
    --------
    >>> for sentence in in_words(Policies(period_from=1866, period_to=1895)):
    ...     print(sentence)
    Each row starts in the middle of its marks and moves up or down with what is found.
    Original, restored and new gear can earn the same marks.
    A modern item loses marks on its row, in sight or not.
    In period means from 1866 to 1895.
    A row that does not apply is left out; its points go to the other rows of its section.
    A row that could not be inspected is left out in the same way.
    Zero is a mark: the judge looked and gave nothing.
    """
    return _sentences(policies, str)


def policy_sentences(policies: Policies) -> tuple[str, ...]:
    """Say the same sentences in the language of whoever reads them; the note stays as written.

    Source
    ------
    Our own rule: what is kept and printed is `in_words`, the same for all.

    Examples
    --------
    >>> policy_sentences(Policies()) == in_words(Policies())
    True
    """
    return _sentences(policies, _)


def _sentences(policies: Policies, say: Callable[[str], str]) -> tuple[str, ...]:
    sentences = (
        say(_MARKING[policies.marking]),
        say(_GEAR[policies.gear_credit]),
        say(_MODERN[policies.modern_items]),
        _period(policies.period_from, policies.period_to, say),
        say(_NOT_APPLICABLE),
        say(_NOT_INSPECTED[policies.not_inspected]),
        say(_ZERO),
        " ".join(policies.note.split()),
    )
    return tuple(sentence for sentence in sentences if sentence)


def _period(first: int | None, last: int | None, say: Callable[[str], str]) -> str:
    if first is None and last is None:
        return ""
    if last is None:
        return say(_PERIOD_FROM).format(first=first)
    if first is None:
        return say(_PERIOD_TO).format(last=last)
    if first == last:
        return say(_PERIOD_YEAR).format(year=first)
    return say(_PERIOD).format(first=first, last=last)
