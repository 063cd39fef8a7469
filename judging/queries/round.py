"""What a judge's phone holds: their visits, the card, their own marks, their questions."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime
from typing import Any

from judging.models import Card, CardMark, Device, Judge, Question, Remark, Scorecard, Visit
from judging.models.card import EMPTY
from judging.queries.cards import demand_card
from judging.queries.panel import seats_of
from judging.rules.round.card_hash import plain_number

SCHEMA = 1


def question_sentence(question: Question) -> str:
    """Say in one sentence what is asked, without blame."""
    return (
        f"Please check wagon {question.entry.number}, {question.criterion.name}: the card says "
        f"{plain_number(question.value)}. The other judges and your own habit suggest about "
        f"{question.expected}. If the mark is right, say so; nothing is changed unless you do."
    )


def round_bundle(device: Device, *, at: datetime) -> dict[str, Any]:
    """Return all a phone needs to work without signal."""
    judge = device.judge
    show = judge.show
    card = demand_card(show)
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
        },
        "judge": {"code": judge.code, "name": judge.person.name},
        "device": {"id": device.pk, "label": device.label},
        "card": _card(card),
        "visits": _visits(judge),
        "questions": _questions(judge),
    }


def _card(card: Scorecard) -> dict[str, Any]:
    return {
        "name": card.name,
        "version": card.version,
        "frozen": card.frozen_at is not None,
        "sections": [
            {
                "code": section.code,
                "name": section.name,
                "points": str(section.points),
                "minutes": section.minutes,
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
                    }
                    for row in section.criteria.all()
                ],
            }
            for section in card.sections.all()
        ],
    }


def _visits(judge: Judge) -> list[dict[str, Any]]:
    """Return the judge's visits by time; those without a time yet come by entry number."""
    sections: dict[int, list[str]] = defaultdict(list)
    entries = {}
    seats = seats_of(judge.show).filter(judge=judge)
    for seat in seats.order_by("entry__number", "section__position"):
        sections[seat.entry_id].append(seat.section.code)
        entries[seat.entry_id] = seat.entry
    times = {v.entry_id: v for v in Visit.objects.filter(judge=judge)}
    cards = {card.entry_id: card for card in Card.objects.filter(judge=judge)}
    marks: dict[int, dict[str, Any]] = defaultdict(dict)
    for mark in (
        CardMark.objects.filter(card__judge=judge)
        .exclude(state=EMPTY)
        .select_related("card", "criterion")
    ):
        marks[mark.card.entry_id][mark.criterion.code] = {
            "state": mark.state,
            "value": plain_number(mark.value) if mark.value is not None else None,
        }
    remarks: dict[int, dict[str, str]] = defaultdict(dict)
    said = Remark.objects.filter(card__judge=judge).exclude(text="")
    for remark in said.select_related("card", "section"):
        remarks[remark.card.entry_id][remark.section.code] = remark.text

    def line(entry_id: int) -> dict[str, Any]:
        entry, time, card = entries[entry_id], times.get(entry_id), cards.get(entry_id)
        return {
            "starts_at": time.starts_at.isoformat() if time else None,
            "ends_at": time.ends_at.isoformat() if time else None,
            "sections": sections[entry_id],
            "entry": {
                "id": entry.pk,
                "number": entry.number,
                "wagon_name": entry.wagon_name,
                "outfit": entry.outfit,
                "rig": entry.rig.facts(),
                "rig_words": entry.rig.in_words(),
                "spot": entry.spot.number if entry.spot else None,
            },
            "card": {
                "handed_in": bool(card and card.handed_in_at),
                "marks": marks[entry_id],
                "remarks": remarks[entry_id],
            },
        }

    def by_time(entry_id: int) -> tuple[bool, str, int]:
        time = times.get(entry_id)
        starts = time.starts_at.isoformat() if time else ""
        return (time is None, starts, entries[entry_id].number or 0)

    return [line(entry_id) for entry_id in sorted(entries, key=by_time)]


def _questions(judge: Judge) -> list[dict[str, Any]]:
    asked = Question.objects.filter(judge=judge).select_related("entry", "criterion")
    return [
        {
            "id": question.pk,
            "entry": question.entry_id,
            "criterion": question.criterion.code,
            "value": plain_number(question.value),
            "expected": str(question.expected),
            "sentence": question_sentence(question),
            "state": question.state,
        }
        for question in asked
    ]
