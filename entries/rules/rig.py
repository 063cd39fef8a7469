"""What a rig is: the facts about tongue, hitch, draft and harness that a card depends on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum


class Tongue(StrEnum):
    """How the tongue meets the front hounds."""

    DROP = "drop"
    STIFF = "stiff"


class Hitch(StrEnum):
    """How many animals, in pairs."""

    TEAM = "team"
    FOUR_UP = "four_up"
    SIX_UP = "six_up"


class Draft(StrEnum):
    """What pulls: leather tugs or trace chains."""

    LEATHER = "leather"
    CHAIN = "chain"


class Pattern(StrEnum):
    """The harness's make."""

    CIVIL = "civil"
    MILITARY = "military"


class Holdback(StrEnum):
    """How the wheel team stops the wagon."""

    POLE_STRAP = "pole_strap"
    SIDE_BACKER = "side_backer"


FACTS: dict[str, type[StrEnum]] = {
    "tongue": Tongue,
    "hitch": Hitch,
    "draft": Draft,
    "pattern": Pattern,
    "holdback": Holdback,
}

WORDS: dict[str, str] = {
    "tongue": "Tongue",
    "hitch": "Hitch",
    "draft": "Draft",
    "pattern": "Harness pattern",
    "holdback": "Holdback",
    "drop": "drop tongue",
    "stiff": "stiff tongue",
    "team": "team of two",
    "four_up": "four-up",
    "six_up": "six-up",
    "leather": "leather tugs",
    "chain": "trace chains",
    "civil": "civil pattern",
    "military": "military pattern",
    "pole_strap": "pole straps",
    "side_backer": "side-backer",
}


@dataclass(frozen=True)
class Rig:
    """One wagon's rig, fact by fact."""

    tongue: Tongue
    hitch: Hitch
    draft: Draft
    pattern: Pattern
    holdback: Holdback

    def facts(self) -> dict[str, str]:
        """Return the facts as plain words, as conditions and phones read them."""
        return {name: str(getattr(self, name)) for name in FACTS}

    def in_words(self) -> str:
        """Return one line for a person.

        Examples
        --------
        >>> Rig.read({"tongue": "drop", "hitch": "team", "draft": "chain",
        ...           "pattern": "civil", "holdback": "pole_strap"}).in_words()
        'drop tongue, team of two, trace chains, civil pattern, pole straps'
        """
        return ", ".join(WORDS[value] for value in self.facts().values())

    @classmethod
    def read(cls, given: Mapping[str, str]) -> Rig:
        """Read a rig from plain words.

        Raises
        ------
        ValueError
            With a sentence naming the fact and the values it knows.
        """
        return cls(**{name: _read(name, given.get(name)) for name in FACTS})  # type: ignore[arg-type]


def faults_of_rig(given: Mapping[str, str]) -> dict[str, str]:
    """List the facts that are missing or unknown, a sentence each, so that one look mends all.

    Examples
    --------
    >>> faults_of_rig({"tongue": "drop", "hitch": "nine_up", "draft": "chain",
    ...           "pattern": "civil", "holdback": "pole_strap"})
    {'hitch': 'Hitch: team of two or four-up or six-up, please.'}
    """
    faults = {}
    for name in FACTS:
        try:
            _read(name, given.get(name))
        except ValueError as fault:
            faults[name] = str(fault)
    return faults


def _read(name: str, value: str | None) -> StrEnum:
    kind = FACTS[name]
    try:
        return kind(value or "")
    except ValueError:
        known = " or ".join(WORDS[member.value] for member in kind)
        raise ValueError(f"{WORDS[name]}: {known}, please.") from None
