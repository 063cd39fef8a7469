"""When a criterion applies to a rig: a small form both Python and the phone evaluate.

A condition maps rig facts to the values it accepts, for example
``{"tongue": ["drop"], "hitch": ["four_up", "six_up"]}``. Every fact named must hold, and it
holds when the rig's value is among those listed. The empty condition holds for every rig.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from entries.rules.rig import FACTS

Condition = Mapping[str, Sequence[str]]


def check(condition: Condition) -> None:
    """Refuse a condition that names an unknown fact or value, or can never hold.

    Raises
    ------
    ValueError
        With a sentence naming what is wrong.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> check({"tongue": ["drop"]})
    >>> check({"wheels": ["rubber"]})
    Traceback (most recent call last):
    ...
    ValueError: A rig has no fact “wheels”; it has tongue, hitch, draft, pattern, holdback.
    """
    for fact, values in condition.items():
        if fact not in FACTS:
            raise ValueError(f"A rig has no fact “{fact}”; it has {', '.join(FACTS)}.")
        known = {member.value for member in FACTS[fact]}
        if not values:
            raise ValueError(f"“{fact}” accepts no value, so the criterion can never apply.")
        for value in values:
            if value not in known:
                raise ValueError(
                    f"“{value}” is no value of {fact}; it knows {', '.join(sorted(known))}."
                )


def applies(condition: Condition, facts: Mapping[str, str]) -> bool:
    """Say whether a criterion with this condition is judged on this rig.

    Parameters
    ----------
    condition : mapping of str to sequence of str
        Checked beforehand by `check`.
    facts : mapping of str to str
        The rig, fact by fact.

    Notes
    -----
    The phone's own evaluation is held to the same test vectors.

    Source
    ------
    Which parts belong to which rig is data on the scorecard, with its own sources.

    Examples
    --------
    >>> applies({"hitch": ["four_up", "six_up"]}, {"hitch": "team"})
    False
    >>> applies({}, {"hitch": "team"})
    True
    """
    return all(facts.get(fact) in values for fact, values in condition.items())
