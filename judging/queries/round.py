"""What a judge's phone holds: their visits, the card, their own marks, their questions."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db.models import Q, QuerySet
from django.templatetags.static import static

from entries.models import Entry
from entries.rules.places import Status
from entries.rules.rig import FACTS, WORDS, Rig
from judging.models import (
    CalledOffVisit,
    Card,
    CardMark,
    ClassCard,
    Device,
    Judge,
    Question,
    Remark,
    RigReport,
    Scorecard,
    Seat,
    Visit,
)
from judging.models.card import EMPTY
from judging.queries.announcements import changed_times
from judging.queries.cards import class_cards, demand_card
from judging.queries.library import drawings, handbook
from judging.queries.photos import limits, photos_by_entry
from judging.queries.questions import on_the_phone
from judging.queries.rigs import card_facts, latest_reports
from judging.rules.cards import scorecard as values
from judging.rules.cards.condition import condition_words
from judging.rules.cards.policies import Policies, policy_sentences
from judging.rules.handbook.parts import Part
from judging.rules.round.card_hash import card_hash, plain_number
from showrun.language import gettext as _
from showrun.shows.models import Show

# 2: forms, parts and policies, the rig as the judge found it, a practice wagon.
SCHEMA = 2


def round_bundle(device: Device, *, at: datetime) -> dict[str, Any]:
    """Return all a phone needs to work without signal, in the language spoken now.

    What the show wrote stays as it wrote it; marks and their hashes know no language.
    """
    judge = device.judge
    show = judge.show
    card = demand_card(show)
    seats = list(_seats(judge, card))
    return {
        "schema": SCHEMA,
        "server_time": at.isoformat(),
        "show": {
            "slug": show.slug,
            "name": show.name,
            "ground": show.ground,
            "zone": show.zone,
            "cautions": show.cautions,
            "policies": show.policies,
            "judging_starts_at": show.judging_starts_at.isoformat(),
        },
        "judge": {"code": judge.code, "name": judge.person.name},
        "device": {
            "id": device.pk,
            "label": device.label,
            "scribe": device.scribe,
            "taken": device.events.count(),
        },
        "card": _card(card),
        "rig_facts": _rig_facts(),
        "handbook": _handbook(card),
        "policies_by_class": _policies(show, {seat.section_id for seat in seats}),
        "visits": _visits(judge, card, seats, _scratched(judge)),
        "questions": _questions(judge),
        "announcements": changed_times(judge),
        "photos": limits(),
    }


def _seats(judge: Judge, card: Scorecard) -> QuerySet[Seat]:
    """Return the judge's seats at confirmed wagons and at the practice wagon."""
    here = Seat.objects.filter(
        judge=judge,
        section__scorecard=card,
        entry__status__in=[Status.CONFIRMED.value, Status.PRACTICE.value],
    )
    order = here.order_by("entry__number", "section__position")
    return order.select_related("entry__spot", "section")


def _scratched(judge: Judge) -> list[Entry]:
    """Return the scratched wagons this judge was told to visit, or has a card of.

    A phone must say that such a wagon is gone; it would else stand there as a wagon to come.
    """
    told = Visit.objects.filter(judge=judge, window__published_at__isnull=False)
    off = CalledOffVisit.objects.filter(judge=judge)
    begun = Card.objects.filter(judge=judge)
    known = [Q(pk__in=rows.order_by().values("entry")) for rows in (told, off, begun)]
    gone = Entry.objects.filter(show=judge.show_id, status=Status.SCRATCHED.value)
    return list(gone.filter(known[0] | known[1] | known[2]).order_by("number"))


# --- The card, and what a judge reads beside it -----------------------------------------------


def _card(card: Scorecard) -> dict[str, Any]:
    return {
        "name": card.name,
        "version": card.version,
        "notice": card.notice,
        "frozen": card.frozen_at is not None,
        "sections": [
            {
                "code": section.code,
                "name": section.name,
                "points": str(section.points),
                "minutes": section.minutes,
                "form": section.form,
                "all_or_nothing": section.all_or_nothing,
                "quick_phrases": section.quick_phrases,
                "criteria": [
                    {
                        "code": row.code,
                        "name": row.name,
                        "guidance": row.guidance,
                        "danger": row.danger,
                        "max_mark": plain_number(row.max_mark),
                        "step": plain_number(row.step),
                        "applies": row.applies,
                        "parts": row.parts,
                    }
                    for row in section.criteria.all()
                ],
            }
            for section in card.sections.all()
        ],
    }


def _rig_facts() -> list[dict[str, Any]]:
    """Return the facts of a rig with their words, for a judge who finds another rig."""
    return [
        {
            "fact": fact,
            "words": _(WORDS[fact]),
            "values": [{"value": m.value, "words": _(WORDS[m.value])} for m in members],
        }
        for fact, members in FACTS.items()
    ]


def _handbook(card: Scorecard) -> dict[str, Any]:
    """Return the parts that the card's rows name, in the handbook's order, and their drawings."""
    named = {
        code
        for section in card.sections.all()
        for row in section.criteria.all()
        for code in row.parts
    }
    parts = {code: part for code, part in handbook().items() if code in named}
    drawn = {part.drawing for part in parts.values()}
    return {
        "parts": {code: _part(part) for code, part in parts.items()},
        "drawings": {
            name: {"title": one.title, "alt": one.alt, "url": static(one.static_path)}
            for name, one in drawings().items()
            if name in drawn
        },
    }


def _part(part: Part) -> dict[str, Any]:
    return {
        "name": part.name,
        "group": part.group,
        "job": part.job,
        "look": part.look,
        "fails": part.fails,
        "danger": part.danger,
        "rigs": condition_words(part.rigs),
        "drawing": part.drawing,
        "mark": part.mark,
    }


def _policies(show: Show, sections: set[int]) -> list[dict[str, Any]]:
    """Return what each class declares that counts one of these sections."""
    return [
        {
            "name": card.show_class.name,
            "sections": [section.code for section in card.sections.all()],
            "lines": list(policy_sentences(card.policies)),
            "states": _states(card),
        }
        for card in class_cards(show)
        if sections & {section.pk for section in card.sections.all()}
    ]


def _states(card: ClassCard) -> dict[str, str]:
    """Return what zero and the two states do in this class, for beside the keys."""
    # With nothing else declared, these three are the last sentences of all.
    bare = Policies(not_inspected=card.policies.not_inspected)
    not_applicable, not_inspected, zero = policy_sentences(bare)[-3:]
    return {"zero": zero, "not_applicable": not_applicable, "not_inspected": not_inspected}


# --- The judge's own wagons -------------------------------------------------------------------


@dataclass
class _Filled:
    """A card as it stands, in the phone's words."""

    handed_in: bool = False
    hash: str = ""
    card: Card | None = None
    marks: dict[str, Any] = field(default_factory=dict)
    aside: dict[str, Any] = field(default_factory=dict)
    # On rows of an earlier version of the card: shown, and never to come back by a rig.
    earlier: list[dict[str, Any]] = field(default_factory=list)
    remarks: dict[str, str] = field(default_factory=dict)


def _given(mark: CardMark) -> dict[str, Any]:
    value = plain_number(mark.value) if mark.value is not None else None
    return {"state": mark.state, "value": value}


def _filled(judge: Judge, card: Scorecard) -> dict[int, _Filled]:
    """Return the judge's cards by entry."""
    found: dict[int, _Filled] = defaultdict(_Filled)
    stands: dict[int, dict[str, values.Mark]] = defaultdict(dict)
    for mark in (
        CardMark.objects.filter(card__judge=judge)
        .exclude(state=EMPTY)
        .select_related("card", "criterion__section")
        .order_by("criterion__section__position", "criterion__position")
    ):
        here, row = found[mark.card.entry_id], mark.criterion
        if mark.aside and row.section.scorecard_id != card.pk:
            about = {"code": row.code, "name": row.name, "form": row.section.form}
            here.earlier.append({**about, **_given(mark)})
        elif mark.aside:
            here.aside[row.code] = _given(mark)
        else:
            here.marks[row.code] = _given(mark)
            stands[mark.card.entry_id][row.code] = values.Mark(
                values.MarkState(mark.state), mark.value
            )
    said = Remark.objects.filter(card__judge=judge).exclude(text="")
    for remark in said.select_related("card", "section"):
        found[remark.card.entry_id].remarks[remark.section.code] = remark.text
    for begun in Card.objects.filter(judge=judge):
        here = found[begun.entry_id]
        here.card, here.handed_in = begun, begun.handed_in_at is not None
        here.hash = card_hash(stands[begun.entry_id])
    return found


def _report(report: RigReport) -> dict[str, str]:
    """Return the judge's last word on the rig, and what the office made of it."""
    return {"state": report.state, "text": report.text, "note": report.settled_note}


def _visits(
    judge: Judge, card: Scorecard, seats: Iterable[Seat], scratched: Iterable[Entry]
) -> list[dict[str, Any]]:
    """Return the judge's visits: practice first, then by time, without a time by number."""
    sections: dict[int, list[str]] = defaultdict(list)
    entries: dict[int, Entry] = {entry.pk: entry for entry in scratched}
    for seat in seats:
        sections[seat.entry_id].append(seat.section.code)
        entries[seat.entry_id] = seat.entry
    times = {v.entry_id: v for v in Visit.objects.filter(judge=judge)}
    filled, reports = _filled(judge, card), latest_reports(judge)
    photos = photos_by_entry(judge)

    def line(entry_id: int) -> dict[str, Any]:
        entry, time = entries[entry_id], times.get(entry_id)
        here = filled.get(entry_id, _Filled())
        rig = Rig.read(card_facts(here.card, entry))
        report = reports.get(entry_id)
        return {
            "starts_at": time.starts_at.isoformat() if time else None,
            "ends_at": time.ends_at.isoformat() if time else None,
            "practice": entry.status == Status.PRACTICE,
            "scratched": entry.status == Status.SCRATCHED,
            "sections": sections[entry_id],
            "entry": {
                "id": entry.pk,
                "number": entry.number,
                "wagon_name": entry.wagon_name,
                "outfit": entry.outfit,
                "rig": rig.facts(),
                "rig_words": rig.said(),
                "rig_entered": entry.rig.facts(),
                "spot": entry.spot.number if entry.spot else None,
            },
            "rig_report": _report(report) if report else None,
            "card": {
                "handed_in": here.handed_in,
                "hash": here.hash,
                "marks": here.marks,
                "aside": here.aside,
                "earlier": here.earlier,
                "remarks": here.remarks,
            },
            "photos": photos.get(entry_id, []),
        }

    def by_time(entry_id: int) -> tuple[bool, bool, str, int]:
        time, entry = times.get(entry_id), entries[entry_id]
        starts = time.starts_at.isoformat() if time else ""
        return (entry.status != Status.PRACTICE, time is None, starts, entry.number or 0)

    return [line(entry_id) for entry_id in sorted(entries, key=by_time)]


def _questions(judge: Judge) -> list[dict[str, Any]]:
    asked = Question.objects.filter(judge=judge).select_related("entry", "criterion")
    return [on_the_phone(question) for question in asked]
