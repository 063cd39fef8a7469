"""A judged and released class, built straight from rows: what papers are drawn from."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal
from itertools import pairwise
from typing import NamedTuple
from uuid import uuid4

from entries.models import CrewMember, Entry, EntryClass
from judging.models import (
    Card,
    CardMark,
    ClassCard,
    Criterion,
    Device,
    Judge,
    Placing,
    Remark,
    Result,
    RigReport,
    RoundEvent,
    SafetyConcern,
    Scorecard,
    Seat,
    Section,
    Signature,
)
from judging.rules.cards.score import score_section
from judging.rules.cards.scorecard import Form, Mark, MarkState, NotInspected
from showrun.shows.models import Person, RoleHeld, Show, ShowClass

AT = datetime(2027, 5, 15, 20, 0, tzinfo=UTC)
WAGONS = ["Tin Lantern", "Rolling Biscuit", "Gate and Kettle", "Last Willow", "Copper Moon"]
RIG = {
    "tongue": "drop",
    "hitch": "team",
    "draft": "leather",
    "pattern": "civil",
    "holdback": "pole_strap",
}
SECTIONS = ["Running gear", "Wagon box", "Camp kit", "Harness", "Crew and sound"]
ROWS = ["Hubs and grease", "Spokes and felloes", "Tires", "Axles", "Brake", "Reach", "Bolts"]


def person(name: str, *roles: str, show: Show | None = None) -> Person:
    """Return the person of this name, with roles in the show."""
    email = f"{name.lower().replace(' ', '.')}@people.example"
    found = Person.objects.filter(email=email).first()
    made = found or Person.objects.create_user(email=email, name=name)
    for role in roles:
        assert show is not None
        RoleHeld.objects.get_or_create(show=show, person=made, role=role)
    return made


def show(slug: str = "lantern-draw", name: str = "Lantern Draw Chuckwagon Days") -> Show:
    """Make a show."""
    return Show.objects.create(
        slug=slug,
        name=name,
        ground="Three Kettles Ground",
        starts_on=date(2027, 5, 14),
        ends_on=date(2027, 5, 16),
        judging_starts_at=datetime(2027, 5, 15, 14, 0, tzinfo=UTC),
        judging_minutes=300,
        entry_cap=60,
    )


def scorecard(in_show: Show, *, n_sections: int = 5, n_rows: int = 5) -> list[Section]:
    """Make a card of sections worth 20 points each."""
    card = Scorecard.objects.create(show=in_show, name="Wagon, harness and camp", in_use=True)
    sections = []
    for position in range(n_sections):
        section = Section.objects.create(
            scorecard=card,
            code=f"s{position}",
            name=SECTIONS[position % len(SECTIONS)],
            points=Decimal(20),
            minutes=4,
            position=position,
        )
        Criterion.objects.bulk_create(
            Criterion(
                section=section,
                code=f"s{position}_r{row}",
                name=f"{ROWS[row % len(ROWS)]} {row + 1}",
                position=row,
                # The last of several rows belongs to another rig.
                applies={"tongue": ["stiff"]} if row and row == n_rows - 1 else {},
            )
            for row in range(n_rows)
        )
        sections.append(section)
    return sections


def released_class(
    in_show: Show,
    sections: list[Section],
    *,
    n_entries: int = 5,
    n_judges: int = 3,
    code: str = "trail",
    released_at: datetime | None = AT,
    places_awarded: int = 3,
    method: str = "plain",
    wagon_names: list[str] | None = None,
    remarks: bool = True,
    not_inspected: str = "rescale",
    zero_row: str = "",
) -> Result:
    """Judge a class with marks that follow from the numbers, and release its result.

    `zero_row` names a row at which every judge gives the third entry zero.
    """
    show_class = ShowClass.objects.create(
        show=in_show, code=code, name=f"{code.capitalize()} wagon", places_awarded=places_awarded
    )
    class_card = ClassCard.objects.create(
        show_class=show_class,
        judges_per_section=n_judges,
        method=method,
        not_inspected=not_inspected,
    )
    class_card.sections.set(sections)
    names = wagon_names or WAGONS
    judges = _judges(in_show, n_judges)
    first = Entry.objects.filter(show=in_show).count() + 1
    entries = [
        _entry(in_show, show_class, first + place, names[place % len(names)])
        for place in range(n_entries)
    ]
    ranks = [Decimal(rank + 1) for rank in range(n_entries)]
    how = _How(remarks, ranks, NotInspected(not_inspected), zero_row)
    points = {
        entry.pk: _judge(entry, judges, sections, rank, how) for rank, entry in enumerate(entries)
    }
    result = Result.objects.create(
        show_class=show_class,
        version=1,
        method=method,
        rule_version="1",
        inputs_hash="0" * 64,
        computed_at=AT,
        possible_points=sum(s.points for s in sections) * n_judges,
        released_at=released_at,
    )
    _place(result, entries, points)
    for name in ("Mara Ellison", "Jonah Petrie"):
        Signature.objects.create(result=result, person=person(name), signed_at=AT)
    return result


def give_form(section: Section, form: Form, *, all_or_nothing: bool = False) -> None:
    """Let judges give the section passes or places in place of points."""
    section.form, section.all_or_nothing = form.value, all_or_nothing
    section.save()
    if form is Form.PLACINGS:
        section.criteria.filter(position__gt=0).delete()
    section.criteria.update(max_mark=1 if form is Form.PASS_FAIL else 99, step=1)


def correct_rig(entry: Entry, **entered: str) -> RigReport:
    """Say that this was entered and the office adopted what a judge found.

    Every judge had marked one row of the rig as entered; those marks are kept aside.
    """
    for card in Card.objects.filter(entry=entry).select_related("judge"):
        sections = Seat.objects.filter(entry=entry).values("section")
        row = Criterion.objects.filter(section__in=sections, applies={"tongue": ["stiff"]})
        CardMark.objects.create(
            card=card, criterion=row.order_by("section__position")[0], state="marked", value=7,
            aside=True,
        )  # fmt: skip
    event = touch(card.judge)
    return RigReport.objects.create(
        judge=card.judge,
        entry=entry,
        device=event.device,
        seq=event.seq,
        event=event,
        facts=entry.rig.facts(),
        entered={**entry.rig.facts(), **entered},
        reported_at=AT,
        state=RigReport.State.ADOPTED,
        settled_at=AT,
        settled_by=person("Mara Ellison"),
        settled_note="Looked at it.",
    )


def touch(judge: Judge) -> RoundEvent:
    """Make the event of a touch on the judge's phone."""
    device, _ = Device.objects.get_or_create(
        judge=judge, defaults={"token_hash": f"{judge.pk:064d}", "paired_at": AT}
    )
    return RoundEvent.objects.create(
        id=uuid4(),
        show=judge.show,
        device=device,
        seq=device.events.count() + 1,
        kind="remark",
        body={},
        body_hash="",
        received_at=AT,
        applied=True,
    )


def raise_concern(entry: Entry, degree: str, text: str) -> SafetyConcern:
    """Let the show's first judge raise a safety concern."""
    judge = Judge.objects.filter(show=entry.show).first()
    assert judge is not None
    return SafetyConcern.objects.create(
        judge=judge, entry=entry, degree=degree, text=text, raised_at=AT, event=touch(judge)
    )


def _judges(in_show: Show, count: int) -> list[Judge]:
    there = list(Judge.objects.filter(show=in_show))
    return there or [
        Judge.objects.create(show=in_show, person=person(f"Judge No {n}"), code=f"J{n}")
        for n in range(1, count + 1)
    ]


def _entry(in_show: Show, show_class: ShowClass, number: int, wagon_name: str) -> Entry:
    entry = Entry.objects.create(
        show=in_show,
        exhibitor=person(f"Exhibitor {in_show.pk} {number}"),
        number=number,
        wagon_name=wagon_name,
        outfit="Two Kettle Outfit",
        status="confirmed",
        entered_at=AT,
        **RIG,
    )
    EntryClass.objects.create(entry=entry, show_class=show_class)
    CrewMember.objects.create(entry=entry, name="Ada Moor", role="head_cook")
    CrewMember.objects.create(entry=entry, name="Ben Oak", role="cook")
    return entry


class _How(NamedTuple):
    """What the stage is told about its judges."""

    remarks: bool
    ranks: list[Decimal]
    policy: NotInspected
    zero_row: str


def _judge(
    entry: Entry, judges: list[Judge], sections: list[Section], rank: int, how: _How
) -> dict[str, Decimal]:
    """Fill every judge's card; a lower rank is a better wagon."""
    facts = entry.rig.facts()
    totals: dict[str, Decimal] = {}
    for seat, judge in enumerate(judges):
        card = Card.objects.create(judge=judge, entry=entry, handed_in_at=AT)
        for section in sections:
            Seat.objects.create(judge=judge, entry=entry, section=section)
            marks = _marks(section, facts, rank, seat)
            if rank == 2:
                zero = Mark(MarkState.MARKED, Decimal(0))
                marks |= {r.code: zero for r in section.criteria.all() if r.name == how.zero_row}
            CardMark.objects.bulk_create(
                CardMark(
                    card=card,
                    criterion=row,
                    state=marks[row.code].state.value,
                    value=marks[row.code].value,
                )
                for row in section.criteria.all()
                if row.code in marks
            )
            value = section.as_value()
            score = score_section(value, facts, marks, how.policy, places=how.ranks)
            assert score.points is not None
            totals[section.code] = totals.get(section.code, Decimal(0)) + score.points
            if how.remarks and (seat + section.position) % 2 == 0:
                text = "Joinery plain and right; grease the plates before the road home."
                event = touch(judge)
                Remark.objects.create(
                    card=card,
                    section=section,
                    text=text,
                    device=event.device,
                    seq=event.seq,
                    event=event,
                )
    return totals


def _marks(of: Section, facts: dict[str, str], rank: int, seat: int) -> dict[str, Mark]:
    section = of.as_value()
    rows = section.rows_for(facts)
    marks = {}
    for place, row in enumerate(rows):
        if section.form is Form.PLACINGS:
            marks[row.code] = Mark(MarkState.MARKED, Decimal(rank + 1))
        elif section.form is Form.PASS_FAIL:
            passed = rank != 1 or place != 0 or seat
            marks[row.code] = Mark(MarkState.MARKED, Decimal(1 if passed else 0))
        elif rank == 1 and seat == 0 and place == 1:
            marks[row.code] = Mark(MarkState.NOT_INSPECTED)
        elif rank == 1 and place == 2:
            marks[row.code] = Mark(MarkState.NOT_APPLICABLE)
        else:
            given = max(0, 9 - rank % 8 - (place * 3 + seat * 2 + rank + of.position) % 4 // 2)
            marks[row.code] = Mark(MarkState.MARKED, Decimal(given))
    return marks


def _place(result: Result, entries: list[Entry], points: dict[int, dict[str, Decimal]]) -> None:
    totals = {entry.pk: sum(points[entry.pk].values(), Decimal(0)) for entry in entries}
    ordered = sorted(entries, key=lambda entry: -totals[entry.pk])
    places = {ordered[0].pk: 1}
    for nth, (before, after) in enumerate(pairwise(ordered), start=2):
        equal = totals[before.pk] == totals[after.pk]
        places[after.pk] = places[before.pk] if equal else nth
    Placing.objects.bulk_create(
        Placing(
            result=result,
            entry=entry,
            place=places[entry.pk],
            total=totals[entry.pk],
            by_section={code: str(value) for code, value in points[entry.pk].items()},
        )
        for entry in entries
    )
