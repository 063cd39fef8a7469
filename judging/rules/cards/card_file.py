"""A scorecard as a file: what may stand in it, read strictly and with all faults at once."""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any

from entries.rules.rig import FACTS
from judging.rules.cards.card_fields import Faults, Fields, inside
from judging.rules.cards.card_overlaps import Placed, note_overlaps
from judging.rules.cards.card_takes import TakeRefused, read_take, taken
from judging.rules.cards.card_values import (
    CardFile,
    CriterionFile,
    SectionFile,
    as_data,
    plain_condition,
)
from judging.rules.cards.condition import Condition, check
from judging.rules.cards.scorecard import Form
from showrun.language import gettext as _

__all__ = [
    "SCHEMA",
    "CardFaults",
    "CardFile",
    "CriterionFile",
    "SectionFile",
    "as_data",
    "read_card_file",
]

SCHEMA: dict[str, Any] = json.loads(
    Path(__file__).with_name("scorecard.schema.json").read_text(encoding="utf-8")
)

Raw = Mapping[object, object]

MOST_SECTIONS = 100
MOST_ROWS = 5_000
LONGEST = {"card": 120, "name": 80, "notice": 1_000, "guidance": 2_000, "quick_phrase": 60}
MOST_POINTS, MOST_MARK = "9999.99", "999.99"
MOST_MINUTES, LAST_VERSION = 600, 9_999
MOST_PHRASES = 30
MOST_PARTS = 20
DANGERS = ("", "A", "B", "C")
# What a row may leave out because its form answers it: the most, and the step.
_MOST_BY_FORM = {Form.PASS_FAIL: Decimal(1), Form.PLACINGS: Decimal(99)}
_STEP_BY_FORM = {Form.PASS_FAIL: Decimal(1), Form.PLACINGS: Decimal(1)}
_CARD_KEYS = ("code", "name", "version", "notice", "rig_facts", "sections")
_SECTION_KEYS = (
    *("code", "name", "points", "minutes", "form", "all_or_nothing"),
    *("quick_phrases", "criteria"),
)
_ROW_KEYS = (
    *("code", "name", "max_mark", "step", "weight", "danger", "applies", "one_of"),
    *("parts", "guidance"),
)


class CardFaults(ValueError):
    """A card file that cannot be used; `faults` has a sentence for each place at fault."""

    def __init__(self, faults: Mapping[str, str]) -> None:
        super().__init__("; ".join(f"{place}: {text}" for place, text in faults.items()))
        self.faults = dict(faults)


def read_card_file(
    data: object,
    library: Mapping[str, object] | None = None,
    *,
    parts: Collection[str] | None = None,
) -> CardFile:
    """Read a card from plain data, or name everything that keeps it from being used.

    Parameters
    ----------
    data : object
        As YAML or JSON gives it: mappings, lists, texts, numbers.
    library : mapping of card code to plain data, optional
        Cards that ``take`` may copy sections from.
    parts : collection of str, optional
        Codes of the handbook's parts; a row that names another one is at fault. Not looked at
        when left out.

    Returns
    -------
    CardFile

    Raises
    ------
    CardFaults
        With a sentence for each place at fault, such as ``sections.2.criteria.0.step``.

    Notes
    -----
    Strict, because a card is argued about later: unknown keys are refused, numbers are numbers,
    codes are once in the card, a step divides its maximum, and rows that stand in for each other
    (``one_of``) or share a name never meet on one rig. A section of places has one row, which is
    for every rig, and a pass or fail row goes from 0 to 1. Points are above zero; only a pass or
    fail section may be worth nothing. At most 100 sections and 5,000 rows.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> row = {"code": "hubs", "name": "Hubs", "max_mark": 10, "step": 3}
    >>> section = {"code": "gear", "name": "Gear", "points": -1, "minutes": 4, "criteria": [row]}
    >>> try:
    ...     read_card_file({"name": "Wagon", "sections": [section]})
    ... except CardFaults as found:
    ...     for place, sentence in found.faults.items():
    ...         print(place, "–", sentence)
    sections.0.points – More than zero, please.
    sections.0.criteria.0.step – Steps of 3 do not lead to 10.
    """
    faults = Faults()
    card = _card(data, library or {}, parts, faults)
    if faults.found or card is None:
        raise CardFaults(faults.found)
    return card


def _card(
    data: object, library: Mapping[str, object], parts: Collection[str] | None, faults: Faults
) -> CardFile | None:
    if not isinstance(data, Mapping):
        faults.add("", _("A card is a mapping with a name and sections."))
        return None
    fields = Fields(data, "", faults)
    fields.refuse_unknown(_CARD_KEYS)
    _check_rig_facts(fields)
    code = fields.code("code")
    given = fields.items("sections", MOST_SECTIONS, needed=True)
    found = [_find(item, place, code, library, faults) for place, item in enumerate(given)]
    rows = sum(_length(item.get("criteria")) for item in found if item)
    if rows > MOST_ROWS:
        faults.add(
            "sections",
            _("A card has at most {most:,} rows; these are {rows:,}.").format(
                most=MOST_ROWS, rows=rows
            ),
        )
        return None
    placed = [
        _placed(item, item is not given[place], f"sections.{place}", parts, faults)
        for place, item in enumerate(found)
        if item is not None
    ]
    note_overlaps(placed, faults)
    return CardFile(
        name=fields.text("name", LONGEST["card"], needed=True),
        sections=tuple(here.section for here in placed),
        code=code,
        version=fields.whole("version", LAST_VERSION, otherwise=1),
        notice=fields.text("notice", LONGEST["notice"], lines=True),
    )


def _check_rig_facts(fields: Fields) -> None:
    """A file may say at its top which facts it speaks of; they must be the service's own."""
    given = fields.data.get("rig_facts")
    if given is None:
        return
    known = {fact: sorted(member.value for member in kind) for fact, kind in FACTS.items()}
    try:
        agrees = isinstance(given, Mapping) and (
            {fact: sorted(values) for fact, values in given.items()} == known
        )
    except TypeError:
        agrees = False
    if not agrees:
        facts = "; ".join(f"{fact}: {', '.join(values)}" for fact, values in known.items())
        fields.fault(
            "rig_facts", _("These are not the facts a rig has here: {facts}.").format(facts=facts)
        )


def _length(criteria: object) -> int:
    return len(criteria) if isinstance(criteria, list | tuple) else 0


def _find(
    item: object, place: int, own: str, library: Mapping[str, object], faults: Faults
) -> Raw | None:
    """The section's own data, here or in the library."""
    at = f"sections.{place}"
    if not isinstance(item, Mapping):
        faults.add(at, _("A section is a mapping with a name, points and criteria."))
        return None
    if "take" not in item:
        return item
    card, section = read_take(item, at, faults)
    if not card or not section:
        return None
    try:
        return taken(card, section, library, own)
    except TakeRefused as refused:
        faults.add(f"{at}.take", str(refused))
        return None


def _placed(
    item: Raw, copied: bool, place: str, parts: Collection[str] | None, faults: Faults
) -> Placed:
    if not copied:
        return Placed(_section(item, place, parts, faults), place)
    inner = Faults()
    section = _section(item, "", parts, inner)
    if inner.found:
        at, sentence = next(iter(inner.found.items()))
        faults.add(
            f"{place}.take",
            _("The library's own section is at fault ({at}): {sentence}").format(
                at=at, sentence=sentence
            ),
        )
    return Placed(section, place, copied=True)


def _section(data: Raw, place: str, parts: Collection[str] | None, faults: Faults) -> SectionFile:
    fields = Fields(data, place, faults)
    fields.refuse_unknown(_SECTION_KEYS)
    form = Form(fields.choice("form", [form.value for form in Form], Form.POINTS.value))
    points = fields.number("points", MOST_POINTS, zero=form is Form.PASS_FAIL)
    all_or_nothing = fields.flag("all_or_nothing")
    if all_or_nothing and form is not Form.PASS_FAIL:
        fields.fault("all_or_nothing", _("Only a section of pass or fail can be all or nothing."))
    given = fields.items("criteria", MOST_ROWS, needed=True)
    if form is Form.PLACINGS and len(given) > 1:
        fields.fault("criteria", _("A section of places has one row: the place itself."))
    rows = [
        _row(item, inside(fields.at("criteria"), number), form, parts, faults)
        for number, item in enumerate(given)
    ]
    return SectionFile(
        code=fields.code("code", needed=True),
        name=fields.text("name", LONGEST["name"], needed=True),
        points=Decimal(1) if points is None else points,
        minutes=fields.whole("minutes", MOST_MINUTES),
        criteria=tuple(rows),
        form=form,
        all_or_nothing=all_or_nothing,
        quick_phrases=fields.texts("quick_phrases", MOST_PHRASES, LONGEST["quick_phrase"]),
    )


def _row(
    data: object, place: str, form: Form, parts: Collection[str] | None, faults: Faults
) -> CriterionFile:
    if not isinstance(data, Mapping):
        faults.add(place, _("A criterion is a mapping with a code, a name and its marks."))
        return CriterionFile("", "", Decimal(1), Decimal(1))
    fields = Fields(data, place, faults)
    fields.refuse_unknown(_ROW_KEYS)
    most, step = _scale(fields, form)
    weight = fields.number("weight", MOST_MARK, otherwise=Decimal(1))
    return CriterionFile(
        code=fields.code("code", needed=True),
        name=fields.text("name", LONGEST["name"], needed=True),
        max_mark=most,
        step=step,
        weight=Decimal(1) if weight is None else weight,
        danger=fields.choice("danger", DANGERS, ""),
        applies=_condition(fields, form),
        one_of=fields.code("one_of"),
        parts=_parts(fields, parts),
        guidance=fields.text("guidance", LONGEST["guidance"], lines=True),
    )


def _scale(fields: Fields, form: Form) -> tuple[Decimal, Decimal]:
    """The most a row takes, and its step."""
    most = fields.number("max_mark", MOST_MARK, otherwise=_MOST_BY_FORM.get(form))
    step = fields.number("step", MOST_MARK, otherwise=_STEP_BY_FORM.get(form))
    if most is None or step is None:
        return Decimal(1), Decimal(1)
    if form is Form.PASS_FAIL and not most == step == 1:
        key = "step" if most == 1 else "max_mark"
        fields.fault(key, _("Pass is 1 and fail is 0, so the most and the step are 1."))
    elif form is Form.PLACINGS and (step != 1 or most % 1):
        key = "max_mark" if step == 1 else "step"
        fields.fault(key, _("Places are whole numbers, in steps of 1."))
    elif most % step:
        fields.fault(
            "step", _("Steps of {step:f} do not lead to {most:f}.").format(step=step, most=most)
        )
    return most, step


def _condition(fields: Fields, form: Form) -> Condition:
    given = fields.data.get("applies")
    if given is None:
        return {}
    try:
        check(given)
    except ValueError as fault:
        fields.fault("applies", str(fault))
        return {}
    if form is Form.PLACINGS and given != {}:
        fields.fault("applies", _("Every wagon gets a place; leave the condition out."))
    # It was read without a fault above, so it is a mapping.
    return plain_condition(given)  # type: ignore[arg-type]


def _parts(fields: Fields, known: Collection[str] | None) -> tuple[str, ...]:
    codes = fields.codes("parts", MOST_PARTS)
    given = fields.items("parts", MOST_PARTS)
    for code in codes:
        if known is not None and code not in known:
            at = inside(fields.at("parts"), given.index(code))
            fields.faults.add(at, _("The handbook has no part “{code}”.").format(code=code))
    return codes
