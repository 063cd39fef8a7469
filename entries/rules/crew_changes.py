"""What is different between two crew lists, one line a person."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from entries.rules.eligibility import CREW_ROLES, same_name

ADDED, REMOVED, CHANGED = "added", "removed", "changed"


@dataclass(frozen=True)
class CrewLine:
    """One person of a crew list.

    Attributes
    ----------
    name : str
        As written.
    role : str
        A code of `CREW_ROLES`.
    under_age : bool
        Whether that person is.
    """

    name: str
    role: str
    under_age: bool = False

    def in_words(self) -> str:
        """Write the line as the log keeps it."""
        part = CREW_ROLES.get(self.role, self.role)
        return f"{self.name}, {part}{', under age' if self.under_age else ''}"


@dataclass(frozen=True)
class Difference:
    """One line of the log: what happened to whom, and how the line read till then."""

    what: str
    line: CrewLine
    before: CrewLine | None = None


def differences(before: Sequence[CrewLine], after: Sequence[CrewLine]) -> tuple[Difference, ...]:
    """Compare two crew lists; a person is known by the name, however it is written.

    Two under age may share their initials; each line is then matched once.

    Returns
    -------
    tuple of Difference
        Who was taken off, in the old list's order; then who changed or came, in the new one's.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> old = [CrewLine("Ada Moor", "head_cook"), CrewLine("Ben Oak", "cook")]
    >>> new = [CrewLine("Ada Moor", "head_cook"), CrewLine("Cy Elm", "cook")]
    >>> [(one.what, one.line.name) for one in differences(old, new)]
    [('removed', 'Ben Oak'), ('added', 'Cy Elm')]
    """
    left: dict[str, list[CrewLine]] = {}
    for line in before:
        left.setdefault(same_name(line.name), []).append(line)
    came = []
    for line in after:
        old = _pick(left.get(same_name(line.name), []), line)
        if old is None:
            came.append(Difference(ADDED, line))
        elif old != line:
            came.append(Difference(CHANGED, line, old))
    gone = [Difference(REMOVED, line) for lines in left.values() for line in lines]
    return (*gone, *came)


def _pick(lines: list[CrewLine], like: CrewLine) -> CrewLine | None:
    """Take the line that stays the same, else the first of that name; two may share initials."""
    if not lines:
        return None
    found = like if like in lines else lines[0]
    lines.remove(found)
    return found
