"""Bring a scorecard into a show, and declare how each class counts it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from decimal import Decimal, InvalidOperation
from typing import Any

from django.db import transaction

from judging.models import ClassCard, Criterion, Scorecard, Section
from judging.rules.cards.condition import check
from judging.rules.cards.scorecard import NotInspected
from judging.rules.results.totals import METHODS
from showrun.errors import Conflict, InvalidInput
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show, ShowClass


def _faults(data: Mapping[str, Any]) -> dict[str, str]:
    """Name what keeps the card from being used, by section or criterion code."""
    faults: dict[str, str] = {}
    seen: set[str] = set()
    for section in data["sections"]:
        if not section.get("criteria"):
            faults[section["code"]] = "This section has no criterion."
        for row in section.get("criteria", ()):
            if row["code"] in seen:
                faults[row["code"]] = "Two criteria have this code."
            seen.add(row["code"])
            try:
                check(row.get("applies") or {})
                most, step = Decimal(str(row["max_mark"])), Decimal(str(row["step"]))
                if most <= 0 or step <= 0 or most % step:
                    faults[row["code"]] = "The maximum must be a whole number of steps."
                if Decimal(str(row.get("weight", 1))) <= 0:
                    faults[row["code"]] = "A row that weighs nothing cannot count."
            except (ValueError, InvalidOperation) as fault:
                faults[row["code"]] = str(fault)
    return faults


@transaction.atomic
def adopt_scorecard(
    *, show: Show, data: Mapping[str, Any], by: Person | None, at: datetime
) -> Scorecard:
    """Make the card from plain data, or refuse it naming each row at fault."""
    faults = _faults(data)
    if faults:
        raise InvalidInput("The scorecard cannot be used as it is.", fields=faults)
    version = int(data.get("version", 1))
    if Scorecard.objects.filter(show=show, name=data["name"], version=version).exists():
        raise Conflict(f"{data['name']}, version {version} is in this show already.")
    card = Scorecard.objects.create(
        show=show,
        code=data.get("code", ""),
        name=data["name"],
        version=version,
        notice=data.get("notice", ""),
        in_use=not Scorecard.objects.filter(show=show, in_use=True).exists(),
        made_at=at,
    )
    for place, line in enumerate(data["sections"]):
        section = Section.objects.create(
            scorecard=card,
            code=line["code"],
            name=line["name"],
            points=Decimal(str(line["points"])),
            minutes=int(line["minutes"]),
            position=place,
            quick_phrases=list(line.get("quick_phrases", ())),
        )
        Criterion.objects.bulk_create(
            Criterion(
                section=section,
                code=row["code"],
                name=row["name"],
                guidance=row.get("guidance", "").strip(),
                danger=row.get("danger", ""),
                max_mark=Decimal(str(row["max_mark"])),
                step=Decimal(str(row["step"])),
                weight=Decimal(str(row.get("weight", 1))),
                applies=dict(row.get("applies") or {}),
                position=number,
            )
            for number, row in enumerate(line["criteria"])
        )
    record_change(
        show=show, actor=by, at=at, verb="adopted", subject=f"scorecard {card}", after=dict(data)
    )
    return card


@transaction.atomic
def declare_class(
    *,
    show_class: ShowClass,
    scorecard: Scorecard,
    sections: Sequence[str],
    method: str,
    judges_per_section: int,
    tie_ladder: Sequence[str] = (),
    not_inspected: str = NotInspected.RESCALE.value,
    by: Person | None,
    at: datetime,
) -> ClassCard:
    """Declare, before judging, which sections a class counts and how its result is made."""
    known = {section.code: section for section in scorecard.sections.all()}
    unknown = [code for code in (*sections, *tie_ladder) if code not in known]
    if unknown:
        raise InvalidInput(f"The scorecard has no section “{unknown[0]}”.")
    if method not in METHODS:
        raise InvalidInput(f"There is no method “{method}”; there are {', '.join(METHODS)}.")
    if scorecard.frozen_at:
        raise Conflict("Judging has begun; how a class is judged is not changed any more.")
    _demand_one_number(show_class, scorecard, sections, judges_per_section)
    card, _ = ClassCard.objects.update_or_create(
        show_class=show_class,
        defaults={
            "method": method,
            "judges_per_section": judges_per_section,
            "tie_ladder": list(tie_ladder),
            "not_inspected": NotInspected(not_inspected).value,
        },
    )
    card.sections.set(known[code] for code in sections)
    record_change(
        show=show_class.show,
        actor=by,
        at=at,
        verb="declared",
        subject=f"class {show_class.name}",
        after={
            "method": method,
            "sections": list(sections),
            "judges_per_section": judges_per_section,
            "tie_ladder": list(tie_ladder),
            "not_inspected": not_inspected,
        },
    )
    return card


def _demand_one_number(
    show_class: ShowClass, scorecard: Scorecard, sections: Sequence[str], judges: int
) -> None:
    """A look counts for every class that counts its section, so all ask for as many looks."""
    others = ClassCard.objects.filter(
        sections__scorecard=scorecard, sections__code__in=sections
    ).exclude(show_class=show_class)
    other = others.exclude(judges_per_section=judges).select_related("show_class").first()
    if other:
        raise InvalidInput(
            f"{other.show_class.name} counts one of these sections with "
            f"{other.judges_per_section} judges. A section is seen by one number of judges, "
            "whatever class counts it.",
            fields={"judges_per_section": f"{other.judges_per_section}, please."},
        )
