"""What a line of the record holds, as words: each fact before and after, side by side."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

LONGEST = 160  # letters of one value


@dataclass(frozen=True)
class Fact:
    """One fact a change is about; `name` is empty where there is one only."""

    name: str
    before: str
    after: str

    @property
    def changed(self) -> bool:
        """Whether it was another before."""
        return self.before != self.after


def side_by_side(before: Any, after: Any) -> list[Fact]:
    """Say what was changed, a fact a line, by name: not every database keeps another order.

    Parameters
    ----------
    before, after : JSON values
        As the record keeps them; None where there is nothing.

    Returns
    -------
    list of Fact
        An empty text where one side does not hold the fact; long lists by their length.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> for fact in side_by_side({"cap": 12, "open": True}, {"cap": 14, "open": True}):
    ...     print(f"{fact.name}: {fact.before} -> {fact.after}")
    cap: 12 -> 14
    open: yes -> yes
    >>> side_by_side(None, {"wagons": [{"no": 1}, {"no": 2}]})
    [Fact(name='wagons', before='', after='2 of them')]
    """
    old, new = _named(before), _named(after)
    names = sorted({*old, *new})
    return [Fact(name.replace("_", " "), old.get(name, ""), new.get(name, "")) for name in names]


def _named(kept: Any) -> dict[str, str]:
    if kept is None:
        return {}
    if isinstance(kept, Mapping):
        return {str(name): _brief(value) for name, value in kept.items()}
    return {"": _brief(kept)}


def _brief(value: Any) -> str:
    if value is None or value == "":
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Mapping):
        parts = [f"{k} {v}" for k, v in value.items() if not isinstance(v, Mapping | list)]
        text = ", ".join(parts)
    elif isinstance(value, list):
        plain = [str(v) for v in value if not isinstance(v, Mapping | list)]
        text = ", ".join(plain) if len(plain) == len(value) else f"{len(value)} of them"
    else:
        text = str(value)
    return text if len(text) <= LONGEST else f"{text[: LONGEST - 1]}…"
