"""When a criterion applies to a rig: a small form both Python and the phone evaluate.

A condition maps rig facts to the values it accepts, for example
``{"tongue": ["drop"], "hitch": ["four_up", "six_up"]}``. Every fact named must hold, and it
holds when the rig's value is among those listed. The empty condition holds for every rig.

A list of such mappings holds when any of them does:
``[{"holdback": ["side_backer"]}, {"pattern": ["military"], "draft": ["chain"]}]``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from itertools import combinations, product

from entries.rules.rig import FACTS, WORDS
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_

Branch = Mapping[str, Sequence[str]]
Condition = Branch | Sequence[Branch]

MOST_BRANCHES = 20
_VALUES = {fact: tuple(member.value for member in kind) for fact, kind in FACTS.items()}
_RIGS = tuple(dict(zip(_VALUES, values, strict=True)) for values in product(*_VALUES.values()))
_ORDER = {fact: place for place, fact in enumerate(FACTS)}
_LONGEST_QUOTE = 40
_EVERY_RIG = N_("every rig")
_OR = N_(" or ")


def quoted(value: object) -> str:
    """Quote what somebody wrote, short enough for a sentence and without hidden characters.

    Examples
    --------
    >>> quoted("a" * 50), quoted("b\\u202ec")
    ('“aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa…”', '“b\ufffdc”')
    """
    plain = isinstance(value, str | int | float)
    words = " ".join(str(value).split()) if plain else _("a list or mapping")
    text = "".join(char if char.isprintable() else "\ufffd" for char in words[: _LONGEST_QUOTE + 1])
    return f"“{text[: _LONGEST_QUOTE - 1]}…”" if len(text) > _LONGEST_QUOTE else f"“{text}”"


def check(condition: object) -> None:
    """Refuse a condition that names an unknown fact or value, can never hold, or says it twice.

    Parameters
    ----------
    condition : object
        As it was read from a file or a form; anything is looked at, only a `Condition` passes.

    Raises
    ------
    ValueError
        With a sentence naming what is wrong: not a mapping or list of mappings, an unknown fact
        or value, no value or one value twice, an empty list, more than 20 branches, or a branch
        that another one contains.

    Notes
    -----
    Two branches may share rigs ("drop tongue – or six-up"). One that holds for no rig beyond
    those of another says nothing and is most likely a slip, so it is refused.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> check({"tongue": ["drop"]})
    >>> check([{"tongue": ["drop"]}, {"hitch": ["six_up"]}])
    >>> check({"wheels": ["rubber"]})
    Traceback (most recent call last):
    ...
    ValueError: A rig has no fact “wheels”; it has tongue, hitch, draft, pattern, holdback.
    >>> check([{"tongue": ["drop"]}, {"tongue": ["drop"], "hitch": ["team"]}])
    Traceback (most recent call last):
    ...
    ValueError: “drop tongue; team of two” is part of “drop tongue”; leave out one of the two.
    """
    if isinstance(condition, Mapping):
        _check_branch(condition)
        return
    if not isinstance(condition, Sequence) or isinstance(condition, str | bytes):
        raise ValueError(_("A condition names facts of the rig with the values they may have."))
    if not condition:
        raise ValueError(_("An empty list holds for no rig, so the criterion can never apply."))
    if len(condition) > MOST_BRANCHES:
        raise ValueError(
            _("A condition has at most {most} alternatives.").format(most=MOST_BRANCHES)
        )
    for branch in condition:
        if not isinstance(branch, Mapping):
            raise ValueError(_("Each alternative names facts of the rig with their values."))
        _check_branch(branch)
    _check_overlap(condition)


def _check_branch(branch: Mapping[object, object]) -> None:
    for fact, values in branch.items():
        if not isinstance(fact, str) or fact not in _VALUES:
            raise ValueError(
                _("A rig has no fact {fact}; it has {facts}.").format(
                    fact=quoted(fact), facts=", ".join(_VALUES)
                )
            )
        if not isinstance(values, Sequence) or isinstance(values, str | bytes):
            raise ValueError(
                _("The values of “{fact}” are a list, even if there is only one.").format(fact=fact)
            )
        if not values:
            raise ValueError(
                _("“{fact}” accepts no value, so the criterion can never apply.").format(fact=fact)
            )
        for place, value in enumerate(values):
            if not isinstance(value, str) or value not in _VALUES[fact]:
                known = ", ".join(sorted(_VALUES[fact]))
                raise ValueError(
                    _("{value} is no value of {fact}; it knows {known}.").format(
                        value=quoted(value), fact=fact, known=known
                    )
                )
            if value in values[:place]:
                raise ValueError(
                    _("“{fact}” lists “{value}” twice.").format(fact=fact, value=value)
                )


def _check_overlap(branches: Sequence[Branch]) -> None:
    rigs = [frozenset(places_met(branch)) for branch in branches]
    for one, other in combinations(range(len(branches)), 2):
        narrow, wide = (one, other) if rigs[one] < rigs[other] else (other, one)
        if rigs[narrow] == rigs[wide]:
            raise ValueError(
                _("The alternative “{rigs}” is there twice.").format(rigs=in_words(branches[one]))
            )
        if rigs[narrow] < rigs[wide]:
            raise ValueError(
                _("“{narrow}” is part of “{wide}”; leave out one of the two.").format(
                    narrow=in_words(branches[narrow]), wide=in_words(branches[wide])
                )
            )


def applies(condition: Condition, facts: Mapping[str, str]) -> bool:
    """Say whether a criterion with this condition is judged on this rig.

    Parameters
    ----------
    condition : mapping of str to sequence of str, or sequence of such mappings
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
    >>> applies([{"hitch": ["six_up"]}, {"tongue": ["drop"]}], {"hitch": "team", "tongue": "drop"})
    True
    >>> applies({}, {"hitch": "team"})
    True
    """
    if isinstance(condition, Mapping):
        return all(facts.get(fact) in values for fact, values in condition.items())
    return any(applies(branch, facts) for branch in condition)


def in_words(condition: Condition) -> str:
    """Say on which rigs a row is judged.

    Examples
    --------
    >>> in_words({})
    'every rig'
    >>> in_words({"tongue": ["drop"], "hitch": ["four_up", "six_up"]})
    'drop tongue; four-up or six-up'
    >>> in_words({"hitch": ["team"], "tongue": ["drop"]})
    'drop tongue; team of two'
    >>> in_words([{"holdback": ["side_backer"]}, {"draft": ["chain"]}])
    'side-backer – or trace chains'
    """
    return _words(condition, str)


def condition_words(condition: Condition) -> str:
    """Say the same in the language of whoever reads it.

    Examples
    --------
    >>> condition_words({"hitch": ["team"], "tongue": ["drop"]})
    'drop tongue; team of two'
    """
    return _words(condition, _)


def _words(condition: Condition, say: Callable[[str], str]) -> str:
    if not isinstance(condition, Mapping):
        return f" –{say(_OR)}".join(_words(branch, say) for branch in condition)
    if not condition:
        return say(_EVERY_RIG)
    # In the order a rig is told, however a database keeps the mapping.
    told = sorted(condition, key=lambda fact: (_ORDER.get(fact, len(_ORDER)), fact))
    return "; ".join(
        say(_OR).join(say(WORDS[one]) if one in WORDS else one for one in condition[fact])
        for fact in told
    )


def every_rig() -> tuple[dict[str, str], ...]:
    """Return every rig there can be, fact by fact, always in the same order.

    Examples
    --------
    >>> len(every_rig()), every_rig()[0]["tongue"]
    (48, 'drop')
    """
    return tuple(dict(rig) for rig in _RIGS)


def rigs_met(condition: Condition) -> tuple[dict[str, str], ...]:
    """Return the rigs, out of all there can be, that a condition holds for.

    Examples
    --------
    >>> len(rigs_met({"hitch": ["six_up"]})), len(rigs_met({}))
    (16, 48)
    """
    return tuple(dict(_RIGS[place]) for place in places_met(condition))


def places_met(condition: Condition) -> tuple[int, ...]:
    """Return the rigs a condition holds for by their places in `every_rig`; quicker than rigs.

    Examples
    --------
    >>> places_met({"tongue": ["drop"], "hitch": ["team"], "draft": ["leather"]})
    (0, 1, 2, 3)
    """
    return tuple(place for place, rig in enumerate(_RIGS) if applies(condition, rig))
