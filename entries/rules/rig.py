"""What a rig is: the facts about tongue, hitch, draft and harness that a card depends on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from showrun.language import gettext as _
from showrun.language import gettext_noop as N_


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
    "tongue": N_("Tongue"),
    "hitch": N_("Hitch"),
    "draft": N_("Draft"),
    "pattern": N_("Harness pattern"),
    "holdback": N_("Holdback"),
    "drop": N_("drop tongue"),
    "stiff": N_("stiff tongue"),
    "team": N_("team of two"),
    "four_up": N_("four-up"),
    "six_up": N_("six-up"),
    "leather": N_("leather tugs"),
    "chain": N_("trace chains"),
    "civil": N_("civil pattern"),
    "military": N_("military pattern"),
    "pole_strap": N_("pole straps"),
    "side_backer": N_("side-backer"),
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
        """Return one line in English, as it is kept and printed.

        Examples
        --------
        >>> Rig.read({"tongue": "drop", "hitch": "team", "draft": "chain",
        ...           "pattern": "civil", "holdback": "pole_strap"}).in_words()
        'drop tongue, team of two, trace chains, civil pattern, pole straps'
        """
        return ", ".join(WORDS[value] for value in self.facts().values())

    def said(self) -> str:
        """Return the same line in the language of whoever reads the page."""
        return ", ".join(_(WORDS[value]) for value in self.facts().values())

    @classmethod
    def read(cls, given: Mapping[str, str]) -> Rig:
        """Read a rig from plain words.

        Raises
        ------
        ValueError
            With a sentence naming the fact and the values it knows.
        """
        # Each fact is read as its own enumeration, which `_read` cannot say.
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
        known = _(" or ").join(_(WORDS[member.value]) for member in kind)
        words = _("{fact}: {known}, please.").format(fact=_(WORDS[name]), known=known)
        raise ValueError(words) from None
