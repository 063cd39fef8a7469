"""Sections that a card takes from a library card, followed to where they are written."""

from __future__ import annotations

from collections.abc import Mapping

from judging.rules.cards.card_fields import Faults, Fields
from showrun.language import gettext as _

MOST_COPIES = 10


class TakeRefused(ValueError):
    """A section that cannot be taken, with a sentence why."""


def read_take(data: Mapping[object, object], place: str, faults: Faults) -> tuple[str, str]:
    """Read ``take: {card: CODE, section: CODE}``; empty codes after a fault."""
    if len(data) > 1:
        faults.add(place, _("A section that is taken says nothing else; leave the other keys out."))
    given = data["take"]
    if not isinstance(given, Mapping):
        faults.add(f"{place}.take", _("Name the card and its section, please."))
        return "", ""
    fields = Fields(given, f"{place}.take", faults)
    fields.refuse_unknown(("card", "section"))
    return fields.code("card", needed=True), fields.code("section", needed=True)


def taken(
    card: str, section: str, library: Mapping[str, object], own: str = ""
) -> Mapping[object, object]:
    """Follow a taken section through the library to the place where it is written out.

    Parameters
    ----------
    card, section : str
        Codes of the library card and of its section.
    library : mapping of card code to plain data
    own : str
        Code of the card that takes it, "" if it has none.

    Returns
    -------
    mapping
        The section's own plain data, not yet read.

    Raises
    ------
    TakeRefused
        When the library has no such card or section, when the chain comes back to a card it has
        passed, naming the chain, or when it is longer than ten cards.

    Examples
    --------
    >>> written = {"sections": [{"code": "gear", "name": "Gear"}]}
    >>> copied = {"sections": [{"take": {"card": "wagon", "section": "gear"}}]}
    >>> taken("harness", "gear", {"wagon": written, "harness": copied})["name"]
    'Gear'
    >>> taken("harness", "gear", {"wagon": copied, "harness": copied}, own="show")
    Traceback (most recent call last):
    ...
    judging.rules.cards.card_takes.TakeRefused: Section “gear” is copied in a circle:
    show -> harness -> wagon -> wagon.
    """
    chain = [own] if own else []
    while True:
        if card in chain:
            circle = " -> ".join([*chain, card])
            raise TakeRefused(
                _("Section “{section}” is copied in a circle: {circle}.").format(
                    section=section, circle=circle
                )
            )
        chain.append(card)
        if len(chain) > MOST_COPIES:
            raise TakeRefused(
                _("Section “{section}” is copied over more than {most} cards.").format(
                    section=section, most=MOST_COPIES
                )
            )
        if card not in library:
            raise TakeRefused(_("The library has no card “{card}”.").format(card=card))
        found = _find(library[card], section)
        if found is None:
            raise TakeRefused(
                _("Library card “{card}” has no section “{section}”.").format(
                    card=card, section=section
                )
            )
        take = found.get("take")
        if not isinstance(take, Mapping):
            return found
        card = str(take.get("card"))


def _find(card: object, section: str) -> Mapping[object, object] | None:
    """The section of a card with this code, written out or taken itself."""
    sections = card.get("sections") if isinstance(card, Mapping) else None
    for item in sections if isinstance(sections, list | tuple) else ():
        if not isinstance(item, Mapping):
            continue
        take = item.get("take")
        named = take.get("section") if isinstance(take, Mapping) else item.get("code")
        if named == section:
            return item
    return None
