"""A form that was refused, shown again where it was filled in."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Typed:
    """What was typed into a form that was refused, and why."""

    of: object = None
    values: dict[str, str] = field(default_factory=dict)
    faults: dict[str, str] = field(default_factory=dict)

    def at(self, place: object) -> Typed:
        """Return itself at the form it was typed into, nothing typed elsewhere."""
        return self if self.of == place else NOTHING_TYPED


NOTHING_TYPED = Typed()
