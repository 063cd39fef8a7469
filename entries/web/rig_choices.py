"""The five questions about the rig: their words, their drawings, and what was answered."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from entries.rules.rig import FACTS, WORDS

# What each answer means, in one sentence, for somebody who never filled in such a form.
MEANING: dict[str, str] = {
    "drop": "Hinged behind the team; its weight hangs on the neck yoke and breast straps.",
    "stiff": "Fixed in the front hounds; the wagon carries it, not the animals' necks.",
    "team": "One pair, which pulls, steers and stops the wagon.",
    "four_up": "A wheel pair at the tongue and a lead pair in front of it.",
    "six_up": "Wheelers, a swing pair and leaders.",
    "leather": "Leather from the hames to the singletree.",
    "chain": "Chain from the hames, with a pipe or sleeve where it passes the leg.",
    "civil": "Farm, ranch or freight harness, with collars and separate hames.",
    "military": "Army harness, after the pattern of its day.",
    "pole_strap": "Quarter straps run under the belly to a pole strap and the neck yoke.",
    "side_backer": "Side straps hold back to a jockey yoke; nothing runs under the belly.",
}
# What the drawing of each answer shows, for somebody who does not see it.
SEEN: dict[str, str] = {
    "drop": "Drawing: a tongue that turns on a bolt at the wagon and hangs down to the ground.",
    "stiff": "Drawing: a tongue fixed to the wagon, standing straight out above the ground.",
    "team": "Drawing: a wagon from above with one pair.",
    "four_up": "Drawing: a wagon from above with two pairs, one in front of the other.",
    "six_up": "Drawing: a wagon from above with three pairs, one in front of the other.",
    "leather": "Drawing: a flat stitched strap from the hame to the singletree.",
    "chain": "Drawing: a chain with a sleeve over it, from the hame to the singletree.",
    "civil": "Drawing: a padded collar with two separate hames strapped around it.",
    "military": "Drawing: a stiff collar in one piece with its hames, closed by a catch.",
    "pole_strap": "Drawing: a strap from the breeching under the belly to the neck yoke.",
    "side_backer": "Drawing: a strap from the breeching along the side to a short yoke.",
}
QUESTIONS: dict[str, str] = {
    "tongue": "How does the tongue meet the wagon?",
    "hitch": "How many animals?",
    "draft": "What do they pull with?",
    "pattern": "After which pattern is the harness made?",
    "holdback": "How does the wheel team hold the wagon back?",
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
            words=WORDS[name],
            question=QUESTIONS[name],
            choices=tuple(
                Choice(
                    value=member.value,
                    words=as_sentence(WORDS[member.value]),
                    meaning=MEANING[member.value],
                    chosen=chosen.get(name) == member.value,
                    drawing=f"entries/rig/{name}-{member.value}.svg",
                    seen=SEEN[member.value],
                )
                for member in kind
            ),
            fault=faults.get(name, ""),
        )
        for name, kind in FACTS.items()
    ]
