"""A small show set up and judged by the real actions, for tests that need one.

`build_show()` plans it: a scorecard of three sections and nine rows, two classes, four
judges, five confirmed entries with five different rigs, and J2 kin to entry 1. From there
each function goes one step further, and makes up for steps left out before it::

    show = build_show()
    draw_panel(show)
    open_window(show)
    device, token = pair(judge_of(show, "J1"))
    send(device, [mark(entry, "rg_wheels", 7), hand_in(entry)])
    mark_everything(show)
    release_results(show)

The window is on 15 May 2027 from 8:00 in Denver; `AT` is an hour after it opened.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any
from zlib import crc32

from django.db.models import Max

from entries.actions.decide_entry import confirm_entry
from entries.actions.enter import enter
from entries.actions.lay_out_camp import lay_out_camp
from entries.models import Entry
from judging.actions.adopt_scorecard import adopt_scorecard
from judging.actions.compute_result import compute_result
from judging.actions.declare_class import declare_class
from judging.actions.engage_judge import declare_conflict, engage_judge
from judging.actions.open_window import publish_window, size_window
from judging.actions.pair_device import make_pairing_code, pair_device
from judging.actions.record_events import Outcome, record_events
from judging.actions.release_result import release_result, sign_result
from judging.actions.seat_panel import PanelDrawn, seat_panel
from judging.models import (
    Card,
    Criterion,
    Device,
    Judge,
    Result,
    RoundEvent,
    Seat,
    Section,
    Window,
)
from judging.queries.difference import Proposal
from judging.rules.round.events import BATCH_MAX
from showrun.shows.actions.plan_show import give_role, person_for, plan_show
from showrun.shows.models import Person, Show, ShowClass
from showrun.shows.rules.access import Role
from tests.remembered import remembered
from tests.round_events import answer, clear, concern, hand_in, mark, not_inspected, remark
from tests.small_card import RIGS, SCORECARD, SECTIONS

__all__ = [
    "AT", "BEFORE", "OPENS_AT", "RIGS", "SCORECARD", "SECTIONS",
    "add_entries", "add_judges", "answer", "build_show", "card_events", "class_of", "clear",
    "concern", "draw_panel", "entry_of", "fair", "hand_in", "judge_of", "mark",
    "mark_everything", "not_inspected", "office_of", "open_window", "pair", "release_results",
    "remark", "rows_of", "send", "steward_of",
]  # fmt: skip

BEFORE = datetime(2027, 5, 1, 15, 0, tzinfo=UTC)
OPENS_AT = datetime(2027, 5, 15, 14, 0, tzinfo=UTC)
AT = datetime(2027, 5, 15, 15, 0, tzinfo=UTC)

RIPPLE_SEED = 4

WAGONS = ("Patient Mule", "Nine Biscuit", "Copper Moth", "Quiet Anvil", "Tin Sparrow")

# Code, name, seniority; every one of them may judge every section.
JUDGES = (
    ("J1", "Chidi Abara", "senior"),
    ("J2", "Ingrid Lindqvist", "senior"),
    ("J3", "Haruko Penhallow", "novice"),
    ("J4", "Mateo Villasenor", "senior"),
)

Value = int | str | Decimal | Callable[[Judge, Entry, Criterion], int | str | Decimal]


# --- The show before judging ---------------------------------------------------------------


@remembered
def build_show(
    *,
    slug: str = "three-kettles",
    n_entries: int = 5,
    n_judges: int = 4,
    judges_per_section: int = 2,
    judging_minutes: int = 300,
    kin: bool = True,
    scorecard: Mapping[str, Any] = SCORECARD,
) -> Show:
    """Plan the show up to the point where the panel can be drawn.

    Its people have addresses of their own for each `slug`, so that two shows share nobody.
    `kin` declares J2 family of entry 1.
    """
    office = _person("secretary", slug, "Marguerite Oyelaran")
    show = plan_show(
        slug=slug,
        name="Three Kettles Chuckwagon Days",
        ground="Three Kettles Ground",
        starts_on=date(2027, 5, 14),
        ends_on=date(2027, 5, 16),
        judging_starts_at=OPENS_AT,
        judging_minutes=judging_minutes,
        zone="America/Denver",
        entry_cap=max(n_entries, 1),
        classes=[
            {"code": "trail", "name": "Trail wagon", "places_awarded": 3},
            {"code": "working_harness", "name": "Working harness", "places_awarded": 3},
        ],
        office=office,
        at=BEFORE,
        cautions=["A score is not a safety inspection. Local officials decide."],
        policies=["Original, restored and new gear are credited alike for soundness."],
    )
    steward = _person("steward", slug, "Tobias Windfeather")
    give_role(show=show, person=steward, role=Role.STEWARD)
    _declare(show, scorecard, judges_per_section, office)
    add_judges(show, n_judges)
    add_entries(show, n_entries)
    if kin and n_judges > 1 and n_entries:
        declare_conflict(
            judge=judge_of(show, "J2"),
            entry=Entry.objects.confirmed().filter(show=show).earliest("number"),
            kind="kin",
            reason="Her sister-in-law is of this crew.",
            by=office,
            at=BEFORE,
        )
    return show


def _person(part: str, slug: str, name: str) -> Person:
    return person_for(email=f"{part}.{slug}@showrun.example", name=name)


def _declare(
    show: Show, scorecard: Mapping[str, Any], judges_per_section: int, office: Person
) -> None:
    card = adopt_scorecard(show=show, data=scorecard, by=office, at=BEFORE)
    codes = [section["code"] for section in scorecard["sections"]]
    for code, sections, method, ladder in (
        ("trail", codes, "plain", codes[:2]),
        ("working_harness", codes[-1:], "judge_adjusted", []),
    ):
        declare_class(
            show_class=show.classes.get(code=code),
            scorecard=card,
            sections=sections,
            method=method,
            judges_per_section=judges_per_section,
            tie_ladder=ladder,
            by=office,
            at=BEFORE,
        )


def add_judges(show: Show, n: int, *, sections: Sequence[str] | None = None) -> list[Judge]:
    """Engage `n` more judges, for all sections unless said otherwise."""
    there = Judge.objects.filter(show=show).count()
    every = Section.objects.filter(scorecard__show=show).values_list("code", flat=True)
    codes = sections or list(every)
    return [
        engage_judge(
            show=show,
            person=_person(f"j{k + 1}", show.slug, JUDGES[k][1] if k < 4 else f"Judge {k + 1}"),
            code=f"J{k + 1}",
            sections=codes,
            seniority=JUDGES[k][2] if k < 4 else "senior",
            by=office_of(show),
            at=BEFORE,
        )
        for k in range(there, there + n)
    ]


def add_entries(show: Show, n: int) -> list[Entry]:
    """Enter and confirm `n` more wagons in both classes, each with its exhibitor and spot."""
    there = Entry.objects.filter(show=show).count()
    numbers = range(there + 1, there + n + 1)
    Show.objects.filter(pk=show.pk).update(entry_cap=max(there + n, 1))
    lay_out_camp(
        show=show,
        spots=[{"number": k, "x_ft": 50.0 * k, "y_ft": 0.0, "frontage_ft": 50} for k in numbers],
    )
    made = []
    for k in numbers:
        wagon = WAGONS[k - 1] if k <= len(WAGONS) else f"Wagon {k}"
        entry = enter(
            show=show,
            exhibitor=_person(f"cook{k}", show.slug, f"Cook {k}"),
            wagon_name=wagon,
            outfit=f"{wagon} Outfit",
            rig=RIGS[(k - 1) % len(RIGS)],
            classes=["trail", "working_harness"],
            crew=[
                {"name": f"Cook {k}", "role": "head_cook"},
                {"name": f"Helper {k}", "role": "helper"},
            ],
            at=BEFORE,
        )
        made.append(confirm_entry(entry=entry, by=office_of(show), at=BEFORE))
    return made


def office_of(show: Show) -> Person:
    """Return the show secretary."""
    return Person.objects.get(email=f"secretary.{show.slug}@showrun.example")


def steward_of(show: Show) -> Person:
    """Return the second hand."""
    return Person.objects.get(email=f"steward.{show.slug}@showrun.example")


def judge_of(show: Show, code: str = "J1") -> Judge:
    """Return the judge with this short name."""
    return Judge.objects.select_related("person", "show").get(show=show, code=code)


def entry_of(show: Show, number: int = 1) -> Entry:
    """Return the entry with this number; its exhibitor is `entry.exhibitor`."""
    return Entry.objects.select_related("exhibitor", "show", "spot").get(show=show, number=number)


def class_of(show: Show, code: str = "trail") -> ShowClass:
    """Return the class with this code."""
    return show.classes.get(code=code)


# --- Panel and window ----------------------------------------------------------------------


def moved_much(proposal: Proposal) -> int:
    """How many visits move by more than people hardly notice."""
    return sum(abs(line.minutes or 0) > 5 for line in proposal.moved)


def draw_panel(show: Show, *, seed: int = 1) -> PanelDrawn:
    """Draw the panel."""
    return seat_panel(show=show, seed=seed, by=office_of(show), at=BEFORE)


def open_window(show: Show, *, publish: bool = True) -> Window:
    """Size the window, and publish it unless told not to."""
    if not Seat.objects.filter(judge__show=show).exists():
        draw_panel(show)
    show.refresh_from_db()
    window = size_window(show=show, by=office_of(show), at=BEFORE)
    if not publish:
        return window
    return publish_window(show=show, by=office_of(show), at=BEFORE)


# --- The round -----------------------------------------------------------------------------


def pair(judge: Judge, *, label: str = "", at: datetime = AT) -> tuple[Device, str]:
    """Pair a phone with the judge; return it and its token."""
    _, code = make_pairing_code(judge=judge, by=office_of(judge.show), at=at)
    return pair_device(code=code, label=label or f"Phone of {judge.code}", at=at)


def send(
    device: Device, events: Iterable[Mapping[str, Any]], *, unsent: int = 0, at: datetime = AT
) -> list[Outcome]:
    """Send the events as the phone would, in batches; those without id and count get them.

    No events at all are one empty batch, which tells the office how many are unsent.
    """
    ready = list(_counted(device, events, at))
    outcomes: list[Outcome] = []
    for start in range(0, max(len(ready), 1), BATCH_MAX):
        batch = ready[start : start + BATCH_MAX]
        outcomes += record_events(device=device, events=batch, unsent=unsent, at=at)[0]
    return outcomes


def _counted(
    device: Device, events: Iterable[Mapping[str, Any]], at: datetime
) -> Iterator[dict[str, Any]]:
    last = RoundEvent.objects.filter(device=device).aggregate(last=Max("seq"))["last"] or 0
    for event in events:
        last = event.get("seq", last + 1)
        yield {"id": str(uuid.uuid4()), "seq": last, "at": at.isoformat(), **event}


def rows_of(judge: Judge, entry: Entry) -> list[Criterion]:
    """Return the rows the judge must mark on the entry: of their seats, for its rig."""
    sections = Seat.objects.filter(judge=judge, entry=entry).values("section")
    rows = Criterion.objects.filter(section__in=sections).order_by("section__position", "position")
    facts = entry.rig.facts()
    return [row for row in rows if row.as_value().is_for(facts)]


def fair(judge: Judge, entry: Entry, criterion: Criterion) -> int:
    """Give a mark with which no check finds fault and no two of five wagons tie."""
    wagon = (entry.number or 0) % 5
    habit = 1 if judge.code == "J2" else 0
    # As good as by chance, since judges who differ by a pattern are odd; the seed was looked for.
    ripple = crc32(f"{RIPPLE_SEED}{judge.code}{criterion.code}{entry.number}".encode()) % 2
    return 3 + wagon + habit + ripple


def card_events(judge: Judge, entry: Entry, value: Value = fair) -> list[dict[str, Any]]:
    """Return the events that fill the judge's card for the entry and hand it in."""
    events = [
        mark(entry, row.code, value(judge, entry, row) if callable(value) else value)
        for row in rows_of(judge, entry)
    ]
    return [*events, hand_in(entry)]


def mark_everything(
    show: Show,
    value: Value = fair,
    *,
    leave_out: Iterable[tuple[str, int]] = (),
    at: datetime = AT,
) -> None:
    """Fill and hand in every card of the panel, which is drawn first if it is not.

    `value` is one mark for all rows, or a function of judge, entry and criterion.
    `leave_out` names cards as (judge code, entry number); cards handed in stay as they are.
    """
    if not Seat.objects.filter(judge__show=show).exists():
        draw_panel(show)
    skipped = set(leave_out)
    done = set(
        Card.objects.filter(judge__show=show, handed_in_at__isnull=False).values_list(
            "judge_id", "entry_id"
        )
    )
    for judge in Judge.objects.filter(show=show).select_related("show", "person"):
        pairs = Seat.objects.filter(judge=judge).values_list("entry", flat=True)
        wanted = [
            entry
            for entry in Entry.objects.filter(pk__in=pairs).order_by("number")
            if (judge.code, entry.number) not in skipped and (judge.pk, entry.pk) not in done
        ]
        if wanted:
            device = judge.devices.filter(revoked_at__isnull=True).first() or pair(judge, at=at)[0]
            events = [event for entry in wanted for event in card_events(judge, entry, value)]
            send(device, events, at=at)
            lacking = [
                entry.number
                for entry in wanted
                if not Card.objects.filter(
                    judge=judge, entry=entry, handed_in_at__isnull=False
                ).exists()
            ]
            assert not lacking, f"{judge}: the cards of entries {lacking} were not taken"


def release_results(show: Show, *, at: datetime = AT) -> list[Result]:
    """Compute, sign by two hands and release the result of every class."""
    released = []
    for show_class in show.classes.all():
        result = compute_result(show_class=show_class, by=office_of(show), at=at)
        for hand in (office_of(show), steward_of(show)):
            result = sign_result(result=result, by=hand, at=at)
        released.append(release_result(result=result, by=office_of(show), at=at))
    return released
