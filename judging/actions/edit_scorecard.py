"""Edit a draft: its name and notice, its sections. Rows are edited in `edit_row`.

A draft may be unfinished; each section or row is refused only for what is wrong in itself.
Whatever concerns the whole card is asked for when it is put in use.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any, TypeVar

from django.db import transaction
from django.utils.text import slugify

from judging.actions.adopt_scorecard import read_card, write_section
from judging.models import Criterion, Scorecard, Section
from judging.queries.cards import faults_of, is_draft, section_data
from judging.queries.library import library_cards
from judging.rules.cards.card_file import LONGEST, as_data
from judging.rules.cards.scorecard import Form
from showrun.errors import Conflict, InvalidInput, NotFound
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person

LONGEST_CODE = 40  # so that a number fits behind it
SECTION_FIELDS = ("code", "name", "points", "minutes", "form", "all_or_nothing", "quick_phrases")
# What a section is tried with while it has no rows of its own.
_ANY_ROW = {"code": "any_row", "name": "Any row"}
LONGEST_SUBJECT = 160
# The most a row takes where the section's form says it; the step is 1 then.
MARKS_OF_FORM = {Form.PASS_FAIL: 1, Form.PLACINGS: 99}
_Peer = TypeVar("_Peer", Section, Criterion)


def demand_draft(card: Scorecard) -> Scorecard:
    """Lock the card and return it, or refuse what is no draft."""
    card = Scorecard.objects.select_for_update(of=("self",)).select_related("show").get(pk=card.pk)
    demand_editable(card)
    return card


def demand_editable(card: Scorecard) -> None:
    """Refuse to edit what judges mark on, or have marked on; say what to do instead."""
    if is_draft(card):
        return
    if card.frozen_at and card.in_use:
        raise Conflict(
            _(
                "{card} is frozen: judges have marked on it. Make a new version, change that, and "
                "put it in use."
            ).format(card=card),
            code="card-frozen",
        )
    if card.in_use:
        raise Conflict(
            _(
                "{card} is in use: judges may hold it already. Make a new version, change that, "
                "and put it in use."
            ).format(card=card),
            code="card-in-use",
        )
    raise Conflict(
        _("{card} was in use before and stays as it was. Make a new version of it.").format(
            card=card
        ),
        code="card-frozen",
    )


def code_from(name: str, taken: Collection[str], *, stem: str) -> str:
    """Make a code from a name, one that is not taken."""
    code = slugify(name).replace("-", "_").strip("_")[:LONGEST_CODE] or stem
    if code not in taken:
        return code
    return next(f"{code}_{n}" for n in range(2, len(taken) + 3) if f"{code}_{n}" not in taken)


def codes_of_rows(card: Scorecard, *, but: Criterion | None = None) -> set[str]:
    """Return the codes of the card's rows; marks are kept by them, so each stands once."""
    rows = Criterion.objects.filter(section__scorecard=card).exclude(pk=but.pk if but else 0)
    return set(rows.order_by().values_list("code", flat=True))


def faults_at(data: Mapping[str, Any], place: str) -> dict[str, str]:
    """Return a card file's faults that lie below one place, by what is left of the place."""
    below = f"{place}."
    return {
        where.removeprefix(below).split(".")[0]: sentence
        for where, sentence in faults_of(data).items()
        if where.startswith(below)
    }


@transaction.atomic
def rename_scorecard(
    *, card: Scorecard, name: str, notice: str, by: Person | None, at: datetime
) -> Scorecard:
    """Change a draft's name and the notice above it."""
    card = demand_draft(card)
    name, notice = " ".join(name.split()), notice.strip()
    if not name or len(name) > LONGEST["card"]:
        sentence = _("A name, please, of at most {longest} letters.").format(
            longest=LONGEST["card"]
        )
        raise InvalidInput(_("The card needs a name."), fields={"name": sentence})
    if len(notice) > LONGEST["notice"]:
        sentence = _("At most {longest} letters.").format(longest=LONGEST["notice"])
        raise InvalidInput(_("The notice is too long."), fields={"notice": sentence})
    others = Scorecard.objects.filter(show=card.show, name=name).exclude(pk=card.pk)
    numbers = set(others.values_list("version", flat=True))
    before = {"name": card.name, "version": card.version, "notice": card.notice}
    if card.version in numbers:
        card.version = max(numbers) + 1
    card.name, card.notice = name, notice
    card.save(update_fields=["name", "version", "notice"])
    after = {"name": name, "version": card.version, "notice": notice}
    record_edit(card, "renamed", "", before=before, after=after, by=by, at=at)
    return card


@transaction.atomic
def discard_draft(*, card: Scorecard, by: Person | None, at: datetime) -> None:
    """Throw a draft away."""
    card = demand_draft(card)
    if Scorecard.objects.filter(copied_from=card).exists():
        Scorecard.objects.filter(copied_from=card).update(copied_from=card.copied_from)
    rows = Criterion.objects.filter(section__scorecard=card).count()
    record_edit(card, "discarded", "", before={"rows": rows}, by=by, at=at)
    card.delete()


# --- Sections --------------------------------------------------------------------------------


@transaction.atomic
def add_section(
    *, card: Scorecard, fields: Mapping[str, Any], by: Person | None, at: datetime
) -> Section:
    """Add a section at the card's end; its code is made from its name if none is given."""
    card = demand_draft(card)
    given = _section_fields(card, fields, None)
    section = Section.objects.create(scorecard=card, position=_end_of(card), **given)
    record_edit(card, "added", f"section {section}", after=section_data(section), by=by, at=at)
    return section


@transaction.atomic
def change_section(
    *, section: Section, fields: Mapping[str, Any], by: Person | None, at: datetime
) -> Section:
    """Change a section; when it takes pass or fail, or places, so do its rows."""
    card = demand_draft(section.scorecard)
    before = section_data(section)
    for name, value in _section_fields(card, fields, section).items():
        setattr(section, name, value)
    section.save()
    if section.form in MARKS_OF_FORM:
        section.criteria.update(max_mark=MARKS_OF_FORM[Form(section.form)], step=1)
    after = section_data(Section.objects.get(pk=section.pk))
    if before != after:
        record_edit(card, "changed", f"section {section}", before=before, after=after, by=by, at=at)
    return section


def _section_fields(
    card: Scorecard, fields: Mapping[str, Any], section: Section | None
) -> dict[str, Any]:
    """Return the section's columns, or refuse what is wrong in them."""
    given = {name: fields[name] for name in SECTION_FIELDS if name in fields}
    given["name"] = " ".join(str(given.get("name", "")).split())
    others = card.sections.exclude(pk=section.pk if section else 0)
    taken = set(others.values_list("code", flat=True))
    own = section.code if section else ""
    given["code"] = given.get("code") or own or code_from(given["name"], taken, stem="section")
    if given["code"] in taken:
        raise InvalidInput(
            _("Another section of this card has the code “{code}”.").format(code=given["code"]),
            fields={"code": _("Another code, please.")},
        )
    data = {**given, "criteria": [_ANY_ROW]}
    faults = faults_at({"name": "Any card", "sections": [data]}, "sections.0")
    faults.pop("criteria", None)
    if faults:
        raise InvalidInput(_("The section cannot be kept as it is."), fields=faults)
    return {**given, "points": Decimal(str(given["points"]))}


@transaction.atomic
def move_section(*, section: Section, by_places: int, by: Person | None, at: datetime) -> Section:
    """Move a section up (negative) or down in the card."""
    card = demand_draft(section.scorecard)
    if in_new_order(list(card.sections.all()), section, by_places):
        record_edit(card, "moved", f"section {section}", by=by, at=at)
    return section


@transaction.atomic
def remove_section(*, section: Section, by: Person | None, at: datetime) -> None:
    """Remove a section with its rows from a draft."""
    card = demand_draft(section.scorecard)
    record_edit(card, "removed", f"section {section}", before=section_data(section), by=by, at=at)
    section.delete()


@transaction.atomic
def take_section(
    *, card: Scorecard, library_card: str, section: str, by: Person | None, at: datetime
) -> Section:
    """Copy a section of a library card to the draft's end; row codes taken get a number."""
    card = demand_draft(card)
    from_card = library_cards().get(library_card)
    if from_card is None:
        raise NotFound(_("The starter library has no card “{code}”.").format(code=library_card))
    lines = {line["code"]: line for line in as_data(read_card(from_card))["sections"]}
    if section not in lines:
        raise NotFound(
            _("“{card}” has no section “{section}”.").format(
                card=from_card["name"], section=section
            )
        )
    if card.sections.filter(code=section).exists():
        raise Conflict(
            _("The draft has a section “{section}” already.").format(section=lines[section]["name"])
        )
    taken, rows = codes_of_rows(card), []
    for row in lines[section]["criteria"]:
        code = row["code"]
        if code in taken:
            code = code_from(code, taken, stem="row")
        taken.add(code)
        rows.append({**row, "code": code})
    made = write_section(card, {**lines[section], "criteria": rows}, _end_of(card))
    after = {"from": from_card["name"], **section_data(made)}
    record_edit(card, "added", f"section {made}", after=after, by=by, at=at)
    return made


# --- Order and record ------------------------------------------------------------------------


def _end_of(card: Scorecard) -> int:
    last = card.sections.order_by("position").values_list("position", flat=True).last()
    return 0 if last is None else last + 1


def in_new_order(there: Sequence[_Peer], one: _Peer, by_places: int) -> bool:
    """Move one among its peers and number them anew; False where it stays."""
    order = list(there)
    old = next(n for n, peer in enumerate(order) if peer.pk == one.pk)
    new = min(max(old + by_places, 0), len(order) - 1)
    if new == old:
        return False
    order.insert(new, order.pop(old))
    changed = []
    for position, peer in enumerate(order):
        if peer.position != position:
            peer.position = position
            changed.append(peer)
    type(one)._default_manager.bulk_update(changed, ["position"])
    return True


def record_edit(
    card: Scorecard,
    verb: str,
    what: str,
    *,
    before: Any = None,
    after: Any = None,
    by: Person | None,
    at: datetime,
) -> None:
    subject = f"{what} of scorecard {card}" if what else f"scorecard {card}"
    record_change(
        show=card.show,
        actor=by,
        at=at,
        verb=verb,
        subject=subject[:LONGEST_SUBJECT],
        before=before,
        after=after,
    )
