"""Until when a class of a show may still be added, renamed, given other places or taken away."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from showrun.language import gettext as _
from showrun.language import ngettext


class ClassChange(StrEnum):
    """What may be done to a class of a planned show."""

    ADD = "add"
    NAME = "name"
    AWARDS = "awards"
    WAGONS = "wagons"
    REMOVE = "remove"


@dataclass(frozen=True)
class ClassStanding:
    """How far a class has come.

    Parameters
    ----------
    judging_begun : bool
        Whether any judge of the show has begun a card; practice does not count.
    released : bool
        Whether the class has a released result.
    wagons : int
        Wagons that have entered it, scratched ones too.
    counted : bool
        Whether food rounds, results or seasons name it.
    last : bool
        Whether the show has no other class.
    """

    judging_begun: bool = False
    released: bool = False
    wagons: int = 0
    counted: bool = False
    last: bool = False


def reason_against_class_change(change: ClassChange, at: ClassStanding) -> str:
    """Say why a class stays as it is, or nothing where the change may be made.

    Parameters
    ----------
    change : ClassChange
    at : ClassStanding
        For a class that is to be added, only whether judging has begun is looked at.

    Returns
    -------
    str
        A sentence, or an empty string.

    Source
    ------
    Common practice, no source: what is awarded and who competes is fixed before the first mark, and
    nothing takes a released result's name away.

    Example
    -------
    >>> reason_against_class_change(ClassChange.REMOVE, ClassStanding(wagons=3))
    '3 wagons have entered this class; put them into another class first.'
    >>> reason_against_class_change(ClassChange.NAME, ClassStanding(judging_begun=True, wagons=3))
    ''
    """
    if change is ClassChange.NAME:
        released = _("Its result is released under this name, so the name stays.")
        return released if at.released else ""
    if at.judging_begun:
        return _BEGUN[change]()
    return _against_removing(at) if change is ClassChange.REMOVE else ""


def _against_removing(at: ClassStanding) -> str:
    if at.last:
        return _("A show has one class at least; add another first.")
    if at.wagons:
        return ngettext(
            "{n} wagon has entered this class; put it into another class first.",
            "{n} wagons have entered this class; put them into another class first.",
            at.wagons,
        ).format(n=at.wagons)
    if at.counted:
        return _("A season or a food round names this class; take it out there first.")
    return ""


_BEGUN = {
    ClassChange.ADD: lambda: _(
        "Judging has begun. A class is declared before the first mark, so none is added now."
    ),
    ClassChange.AWARDS: lambda: _(
        "Judging has begun. How many places get an award was announced before, so it stays."
    ),
    ClassChange.WAGONS: lambda: _(
        "Judging has begun. Who is in which class was settled before, so it stays."
    ),
    ClassChange.REMOVE: lambda: _("Judging has begun, so the class stays."),
}
