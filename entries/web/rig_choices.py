"""The five questions about the rig: their words, their drawings, and what was answered."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from entries.rules.rig import FACTS, WORDS
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_

# What each answer means, in one sentence, for somebody who never filled in such a form.
MEANING: dict[str, str] = {
    "drop": N_("Hinged behind the team; its weight hangs on the neck yoke and breast straps."),
    "stiff": N_("Fixed in the front hounds; the wagon carries it, not the animals' necks."),
    "team": N_("One pair, which pulls, steers and stops the wagon."),
    "four_up": N_("A wheel pair at the tongue and a lead pair in front of it."),
    "six_up": N_("Wheelers, a swing pair and leaders."),
    "leather": N_("Leather from the hames to the singletree."),
    "chain": N_("Chain from the hames, with a pipe or sleeve where it passes the leg."),
    "civil": N_("Farm, ranch or freight harness, with collars and separate hames."),
    "military": N_("Army harness, after the pattern of its day."),
    "pole_strap": N_("Quarter straps run under the belly to a pole strap and the neck yoke."),
    "side_backer": N_("Side straps hold back to a jockey yoke; nothing runs under the belly."),
}
# What the drawing of each answer shows, for somebody who does not see it.
SEEN: dict[str, str] = {
    "drop": N_("Drawing: a tongue that turns on a bolt at the wagon and hangs down to the ground."),
    "stiff": N_("Drawing: a tongue fixed to the wagon, standing straight out above the ground."),
    "team": N_("Drawing: a wagon from above with one pair."),
    "four_up": N_("Drawing: a wagon from above with two pairs, one in front of the other."),
    "six_up": N_("Drawing: a wagon from above with three pairs, one in front of the other."),
    "leather": N_("Drawing: a flat stitched strap from the hame to the singletree."),
    "chain": N_("Drawing: a chain with a sleeve over it, from the hame to the singletree."),
    "civil": N_("Drawing: a padded collar with two separate hames strapped around it."),
    "military": N_("Drawing: a stiff collar in one piece with its hames, closed by a catch."),
    "pole_strap": N_("Drawing: a strap from the breeching under the belly to the neck yoke."),
    "side_backer": N_("Drawing: a strap from the breeching along the side to a short yoke."),
}
QUESTIONS: dict[str, str] = {
    "tongue": N_("How does the tongue meet the wagon?"),
    "hitch": N_("How many animals?"),
    "draft": N_("What do they pull with?"),
    "pattern": N_("After which pattern is the harness made?"),
    "holdback": N_("How does the wheel team hold the wagon back?"),
}


@dataclass(frozen=True)
class Choice:
    """One radio button or tick box; `drawing` is a static file, if it has one."""

    value: str
    words: str
    meaning: str
    chosen: bool
    drawing: str = ""
    seen: str = ""


@dataclass(frozen=True)
class Fact:
    """One question about the rig with its answers."""

    name: str
    words: str
    question: str
    choices: tuple[Choice, ...]
    fault: str


def as_sentence(words: str) -> str:
    """Begin with a capital."""
    return words[:1].upper() + words[1:]


def rig_questions(chosen: Mapping[str, str], faults: Mapping[str, str]) -> list[Fact]:
    """Return the five questions with what was answered and what is wrong with it."""
    return [
        Fact(
            name=name,
            words=_(WORDS[name]),
            question=_(QUESTIONS[name]),
            choices=tuple(
                Choice(
                    value=member.value,
                    words=as_sentence(_(WORDS[member.value])),
                    meaning=_(MEANING[member.value]),
                    chosen=chosen.get(name) == member.value,
                    drawing=f"entries/rig/{name}-{member.value}.svg",
                    seen=_(SEEN[member.value]),
                )
                for member in kind
            ),
            fault=faults.get(name, ""),
        )
        for name, kind in FACTS.items()
    ]
