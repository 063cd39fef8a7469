"""Counts what a person does on the way through the pages, and models how long hands and head take.

The Keystroke-Level Model gives each operation its mean time; what the service takes to answer is
left out, so that nothing here depends on the machine. It models somebody who knows the way and
makes no mistake: it compares ways through pages, and promises nothing about a first evening.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import StrEnum

# S. K. Card, T. P. Moran and A. Newell, "The keystroke-level model for user performance time with
# interactive systems", Communications of the ACM 23(7), 1980, pages 396 to 410. Figures looked up
# in two summaries of it; the place in the paper itself is from memory.
KEY_S = 0.28  # a key, typed by somebody who is no typist (40 words a minute)
PRESS_S = 0.20  # the button of the mouse, or lifting the finger again
POINT_S = 1.10  # to a target on the screen; taken for a finger's tap as well
HOME_S = 0.40  # a hand from pointing to the keys, or back
THINK_S = 1.35  # before each thing that is decided


class Kind(StrEnum):
    """What was done."""

    TAP = "tap"  # a link, a button, a tick: decided, pointed at, pressed
    AGAIN = "again"  # the next of a row of taps that were decided as one
    TYPE = "type"  # a field: decided, homed on, typed, homed back
    CHOOSE = "choose"  # a line of a list that unfolds: two taps, one decision
    READ = "read"  # something on the page that was looked for and found
    LOAD = "load"  # a page that came; costs a person nothing here, but is counted


@dataclass(frozen=True)
class Step:
    """One thing done, to what, and with how many characters typed."""

    kind: Kind
    what: str
    typed: int = 0

    @property
    def seconds(self) -> float:
        """How long hands and head take for it."""
        tap = POINT_S + PRESS_S
        return {
            Kind.TAP: THINK_S + tap,
            Kind.AGAIN: tap,
            Kind.TYPE: THINK_S + tap + HOME_S + self.typed * KEY_S + HOME_S,
            Kind.CHOOSE: THINK_S + 2 * tap,
            Kind.READ: THINK_S,
            Kind.LOAD: 0.0,
        }[self.kind]


@dataclass
class Steps:
    """What was done so far, in parts that have names."""

    done: list[tuple[str, Step]] = field(default_factory=list)
    part: str = ""

    def add(self, kind: Kind, what: str, typed: int = 0) -> None:
        """Note one thing."""
        self.done.append((self.part, Step(kind, what, typed)))

    def of(self, part: str | None = None) -> list[Step]:
        """The steps of one part, or all."""
        return [step for name, step in self.done if part in (None, name)]

    def report(self) -> str:
        """A line for each part and one for all, to be printed."""
        parts = list(dict.fromkeys(name for name, _ in self.done))
        lines = [f"{name:28} {tell(self.of(name))}" for name in parts]
        return "\n".join([*lines, f"{'in all':28} {tell(self.of())}"])


def taps(steps: Iterable[Step]) -> int:
    """How many times something was tapped; a field is tapped before it is typed in."""
    return sum({Kind.CHOOSE: 2, Kind.READ: 0, Kind.LOAD: 0}.get(one.kind, 1) for one in steps)


def loads(steps: Iterable[Step]) -> int:
    """How many pages came."""
    return sum(one.kind is Kind.LOAD for one in steps)


def typed(steps: Iterable[Step]) -> int:
    """How many characters were typed."""
    return sum(one.typed for one in steps)


def minutes(steps: Iterable[Step]) -> float:
    """How long it takes by the model, without the service's own time."""
    return sum(one.seconds for one in steps) / 60


def tell(steps: list[Step]) -> str:
    """Say the counts in one line."""
    return (
        f"{taps(steps):4} taps {loads(steps):3} pages {typed(steps):5} characters "
        f"{minutes(steps):6.1f} min"
    )
