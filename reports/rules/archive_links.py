"""Which JSON columns of a show hold keys of rows, and how they are led to other keys.

A restored row gets a new key. Links between rows are columns and follow by themselves; inside
JSON only a reader of the code knows what a number is. So every JSON column stands here, with the
places where it holds keys, or with none: it holds codes, words, entry numbers and figures.
`tests/rules/reports/test_archive_links.py` fails on a JSON column that nobody has looked at.

A place is steps with dots between: a name, a position in a list, ``*`` for every item of a list,
``%`` for every name of an object.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import partial
from typing import Any

Place = tuple[str, str]
# Told a table and a key there, gives the new key; None where no row of the show has that key.
NewKey = Callable[[str, int | str], int | str | None]

ENTRY, JUDGE, EVENT = "entries.entry", "judging.judge", "judging.roundevent"
QUESTION, PERSON = "judging.question", "shows.person"

# What a phone sent, or a paper card as if it were one.
_TOUCH: tuple[Place, ...] = (
    ("id", EVENT),
    ("entry", ENTRY),
    ("question", QUESTION),
    ("paper_card", "judging.papercard"),
    ("keyed_by.*.id", PERSON),
)


def _under(start: str, places: Iterable[Place]) -> tuple[Place, ...]:
    return tuple((f"{start}.{place}", table) for place, table in places)


_VISITS: tuple[Place, ...] = (("visits.*.0", JUDGE), ("visits.*.1", ENTRY))
KEYS: dict[str, tuple[Place, ...]] = {
    "shows.show.cautions": (),
    "shows.show.policies": (),
    # Put in use: the card before. Settled touches: as they were sent.
    "shows.auditentry.before": (
        ("card", "judging.scorecard"),
        ("photo", "judging.roundphoto"),
        *_under("sent", _TOUCH),
        *_under("*.sent", _TOUCH),
    ),
    # Words and codes under the same names are no numbers, and stay.
    "shows.auditentry.after": (
        ("card", "judging.scorecard"),
        ("class", "shows.showclass"),
        ("entry", ENTRY),
        ("question", QUESTION),
        ("asked.*", QUESTION),
        ("query", "judging.exhibitorquery"),
        ("id", "reports.paper"),
        ("still_held.%", EVENT),
    ),
    "entries.entryterms.refund_steps": (),
    "entries.entrydraft.typed": (),
    "entries.entryimport.rows": (),
    "judging.announcement.changes": (("*.judge", JUDGE), ("*.entry", ENTRY)),
    "judging.card.rig": (),
    "judging.classcard.purse_weights": (),
    "judging.classcard.tie_ladder": (),
    "judging.criterion.applies": (),
    "judging.criterion.parts": (),
    "judging.foodfigures.changed": (),
    "judging.placing.by_method": (),
    "judging.placing.by_section": (),
    # Its fingerprint is over keys too and fits no more: such a plan is asked for anew.
    "judging.planjob.case": (
        ("seats.*.0", JUDGE),
        ("seats.*.1", ENTRY),
        ("called_off.*.0", JUDGE),
        ("called_off.*.1", ENTRY),
        *_under("push", _VISITS),
    ),
    "judging.planjob.progress": (),
    "judging.planjob.result": _VISITS,
    "judging.result.gaps": (),
    "judging.result.judge_effects": (),
    "judging.result.refusals": (),
    "judging.result.uncertainty": (),
    "judging.rigreport.entered": (),
    "judging.rigreport.facts": (),
    "judging.roundevent.body": _TOUCH,
    "judging.season.points": (),
    "judging.section.quick_phrases": (),
    "judging.window.advice": (),
}


def rekeyed(value: Any, places: Iterable[Place], new_key: NewKey) -> Any:
    """Return JSON in which the keys at these places are new ones.

    Parameters
    ----------
    value : object
        As JSON gave it; it is not changed.
    places : iterable of (str, str)
        Where keys may stand, and of which table they are.
    new_key : callable
        Told table and key, gives the new key, or None where no row has that key.

    Returns
    -------
    object

    Notes
    -----
    A number that is the key of no row of the show, such as a wagon a phone only thought to see,
    turns negative: it can still be read, and is never taken for the key of another row. Text that
    is no key stays as it is.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> seven = {("entries.entry", 7): 41}
    >>> rekeyed({"entry": 7, "seq": 7}, [("entry", "entries.entry")], lambda *key: seven.get(key))
    {'entry': 41, 'seq': 7}
    >>> rekeyed([[3, 8]], [("*.1", "entries.entry")], lambda *key: seven.get(key))
    [[3, -8]]
    """
    for place, table in places:
        value = _at(value, place.split("."), partial(_led, table, new_key))
    return value


def _led(table: str, new_key: NewKey, key: Any) -> Any:
    if isinstance(key, bool) or not isinstance(key, int | str):
        return key
    if isinstance(key, int) and key <= 0:
        return key
    found = new_key(table, key)
    if found is not None:
        return found
    return -key if isinstance(key, int) else key


def _at(value: Any, steps: list[str], change: Callable[[Any], Any]) -> Any:
    """Return the value with the change made wherever these steps lead."""
    if not steps:
        return change(value)
    step, rest = steps[0], steps[1:]
    if isinstance(value, list):
        if step == "*":
            return [_at(item, rest, change) for item in value]
        n = int(step) if step.isdecimal() else len(value)
        return [_at(item, rest, change) if i == n else item for i, item in enumerate(value)]
    if isinstance(value, dict):
        if step == "%":
            return {change(name): item for name, item in value.items()}
        return {
            name: _at(item, rest, change) if name == step else item for name, item in value.items()
        }
    return value
