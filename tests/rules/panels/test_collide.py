"""What collides is as small as can be, and what is said to release it does."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from time import process_time
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from judging.rules.panels.assignment import JudgeOffer, PanelImpossible, Pin, draw_task
from judging.rules.panels.collide import Collision, Release, explain
from judging.rules.panels.colliding import Kind, Rule
from judging.rules.panels.pins import Task

SECTIONS = ("Camp", "Fire")


@st.composite
def tasks(draw_from: st.DrawFn) -> Task:
    """Small tasks with every kind of rule, so that every panel can be tried."""
    entries = [1, 2]
    judges = [
        JudgeOffer(
            f"J{j}",
            draw_from(st.frozensets(st.sampled_from(SECTIONS))),
            draw_from(st.frozensets(st.sampled_from(entries), max_size=2)),
            draw_from(st.one_of(st.none(), st.integers(0, 2))),
            novice=draw_from(st.booleans()),
            max_minutes=draw_from(st.one_of(st.none(), st.integers(0, 9))),
        )
        for j in range(draw_from(st.integers(0, 3)))
    ]
    pins = st.builds(
        Pin,
        st.sampled_from([offer.judge for offer in judges] or ["nobody"]),
        st.sampled_from(entries),
        st.one_of(st.none(), st.sampled_from(SECTIONS)),
        st.booleans(),
    )
    return Task(
        entries=entries,
        entry_sections={1: SECTIONS, 2: draw_from(st.sampled_from([SECTIONS, ("Camp",)]))},
        judges=judges,
        judges_per_section={"Camp": draw_from(st.integers(0, 2)), "Fire": 1},
        pins=draw_from(st.lists(pins, max_size=2)) if judges else (),
        novices_beside_seniors=draw_from(st.booleans()),
        minutes={"Camp": 2, "Fire": 3},
    )


def some_panel_keeps(task: Task, rules: list[Rule]) -> bool:
    """Try every panel against the rules as they are worded; nothing of the flow is used."""
    looks = {rule.section: rule.number or 0 for rule in rules if rule.kind is Kind.LOOKS}
    seats = [
        (offer, entry, section)
        for offer in task.judges
        for entry in task.entries
        for section in task.entry_sections[entry]
    ]
    held = {offer.judge: offer.sections for offer in task.judges}
    forced = forced_seats(task, rules, held)
    out = [seat_is_out(task, rules, offer, entry, section) for offer, entry, section in seats]
    choices = [
        [True] if (o.judge, e, s) in forced else [False] if s not in looks else [False, True]
        for o, e, s in seats
    ]
    for chosen in product(*choices):
        panel = [seat for seat, on in zip(seats, chosen, strict=True) if on]
        if any(on and barred for on, barred in zip(chosen, out, strict=True)):
            continue
        if filled(task, panel, looks, rules) and limits_held(task, panel, rules):
            return True
    return False


def forced_seats(task: Task, rules: list[Rule], held: dict[Any, Any]) -> set[tuple[Any, Any, str]]:
    forced = set()
    for rule in rules:
        if rule.kind is Kind.MUST:
            there = task.entry_sections[rule.entry]
            mine = [s for s in there if s in held[rule.judge]] or there
            forced |= {
                (rule.judge, rule.entry, s)
                for s in (mine if rule.section is None else [rule.section])
                if s in there
            }
    return forced


def seat_is_out(task: Task, rules: list[Rule], offer: JudgeOffer, entry: Any, section: str) -> bool:
    mine = [rule for rule in rules if rule.judge == offer.judge]
    return any(
        (rule.kind is Kind.CONFLICT and rule.entry == entry)
        or (rule.kind is Kind.NOT_ENGAGED and rule.section == section)
        or (rule.kind is Kind.MUST_NOT and rule.entry == entry and rule.section in (None, section))
        for rule in mine
    )


def filled(task: Task, panel: list[Any], looks: dict[Any, int], rules: list[Rule]) -> bool:
    beside = any(rule.kind is Kind.BESIDE_SENIOR for rule in rules)
    for entry in task.entries:
        for section in task.entry_sections[entry]:
            there = [offer for offer, e, s in panel if (e, s) == (entry, section)]
            if section in looks:
                if len(there) != looks[section]:
                    return False
                if beside and there and all(offer.novice for offer in there):
                    return False
    return True


def limits_held(task: Task, panel: list[Any], rules: list[Rule]) -> bool:
    assert task.minutes is not None
    for rule in rules:
        own = [section for offer, _, section in panel if offer.judge == rule.judge]
        if rule.kind is Kind.SEATS and len(own) > (rule.number or 0):
            return False
        if rule.kind is Kind.MINUTES and sum(task.minutes[s] for s in own) > (rule.number or 0):
            return False
    return True


@given(tasks())
@settings(max_examples=150, deadline=None)
def test_the_set_collides_and_without_any_one_rule_it_does_not(task: Task) -> None:
    collision = explain(task)
    try:
        draw_task(task, seed=0)
    except PanelImpossible:
        assert collision is not None
    else:
        assert collision is None
        return
    rules = list(collision.rules)
    assert not some_panel_keeps(task, rules)
    for rule in rules:
        assert some_panel_keeps(task, [other for other in rules if other != rule])
    assert collision.lines
    for release in collision.releases:
        draw_task(released(task, release), seed=0)


def released(task: Task, release: Release) -> Task:
    """Do what the release says."""
    offers = list(task.judges)
    place = next((k for k, o in enumerate(offers) if o.judge == release.judge), -1)
    if release.kind == "pin":
        gone = [p for p in task.pins if (p.judge, p.section) == (release.judge, release.section)]
        freed = [p for p in gone if named_in(p, release)]
        assert freed
        return replace(task, pins=[p for p in task.pins if p not in freed])
    if release.kind == "seats":
        offers[place] = replace(offers[place], max_seats=release.number)
    elif release.kind == "minutes":
        offers[place] = replace(offers[place], max_minutes=release.number)
    elif release.kind == "section":
        offers[place] = replace(
            offers[place], sections=offers[place].sections | {str(release.section)}
        )
    elif release.kind == "judge":
        held = frozenset(str(release.section).split(", "))
        offers += [JudgeOffer(f"more {k}", held) for k in range(release.number or 0)]
    elif release.kind == "looks":
        looks = {**task.judges_per_section, str(release.section): release.number or 0}
        return replace(task, judges_per_section=looks)
    else:
        return replace(task, novices_beside_seniors=False)
    return replace(task, judges=offers)


def named_in(pin: Pin, release: Release) -> bool:
    verb = "seat at" if pin.must else "sit at"
    return f"{verb} {pin.entry}, " in release.sentence


@given(tasks())
@settings(max_examples=60, deadline=None)
def test_a_limit_is_raised_no_further_than_needed(task: Task) -> None:
    collision = explain(task)
    assume(collision is not None)
    assert collision is not None
    for release in collision.releases:
        if release.kind in ("seats", "minutes", "looks"):
            step = 1 if release.kind == "looks" else -1
            less = replace(release, number=(release.number or 0) + step)
            with pytest.raises(PanelImpossible):
                draw_task(released(task, less), seed=0)


def told(task: Task, **names: str) -> Collision:
    collision = explain(task, names={4: "wagon 4", 5: "wagon 5", **names})
    assert collision is not None
    return collision


def harness(judges: list[JudgeOffer], looks: int = 1, **more: Any) -> Task:
    return Task(
        entries=[4, 5],
        entry_sections=dict.fromkeys([4, 5], ("Harness",)),
        judges=judges,
        judges_per_section={"Harness": looks},
        **more,
    )


def test_nobody_is_engaged_at_all() -> None:
    collision = told(harness([]))
    assert collision.lines == ("In Harness each wagon is looked at by 1 judge.",)
    assert [r.sentence for r in collision.releases] == ["Engage 1 more senior judge for Harness."]


def test_a_section_nobody_holds_names_those_who_could() -> None:
    judges = [JudgeOffer(name, frozenset({"Fire"})) for name in ("Ann", "Bob")]
    collision = told(harness(judges))
    assert collision.lines[1] == "Ann and Bob are not engaged for Harness."
    assert [r.sentence for r in collision.releases] == [
        "Engage 1 more senior judge for Harness.",
        "Engage Ann for Harness too.",
        "Engage Bob for Harness too.",
    ]


def test_a_pin_against_a_conflict_is_the_whole_collision() -> None:
    judges = [
        JudgeOffer("Ann", frozenset({"Harness"}), frozenset({4})),
        JudgeOffer("Bob", frozenset({"Harness"}), frozenset({5})),
        JudgeOffer("Cy", frozenset({"Harness"})),
    ]
    collision = told(harness(judges, pins=[Pin("Ann", 4), Pin("Cy", 5)]))
    assert collision.lines == (
        "Ann is in conflict with wagon 4.",
        "Ann must sit at wagon 4, every section.",
    )
    assert [r.sentence for r in collision.releases] == [
        "Let Ann's seat at wagon 4, every section, be free."
    ]


def test_a_judge_kept_off_a_wagon_is_no_way_out_for_another_section_of_it() -> None:
    task = Task(
        entries=[4],
        entry_sections={4: ("Harness", "Fire")},
        judges=[
            JudgeOffer("Ann", frozenset({"Harness"}), frozenset({4})),
            JudgeOffer("Bob", frozenset({"Fire"})),
            JudgeOffer("Cy", frozenset({"Fire"})),
        ],
        judges_per_section={"Harness": 1, "Fire": 1},
        pins=[Pin("Bob", 4, must=False)],
    )
    ways = [r.judge for r in told(task).releases if r.kind == "section"]
    assert ways == ["Cy"]
    free = told(replace(task, pins=[])).releases
    assert [r.judge for r in free if r.kind == "section"] == ["Bob", "Cy"]


def test_novices_alone_are_told_with_their_names_and_two_ways_out() -> None:
    judges = [JudgeOffer(n, frozenset({"Harness"}), novice=True) for n in ("Ann", "Bob")]
    collision = told(harness(judges, looks=2, novices_beside_seniors=True))
    assert collision.lines == (
        "In Harness each wagon is looked at by 2 judges.",
        "A novice sits only beside a senior, and Ann and Bob are novices.",
    )
    assert [r.kind for r in collision.releases] == ["novices", "judge"]


def test_two_collisions_at_once_have_no_single_way_out() -> None:
    judges = [JudgeOffer("Ann", frozenset({"Harness"}), frozenset({4, 5}))]
    pins = [Pin("Ann", 4), Pin("Ann", 5)]
    collision = told(harness(judges, pins=pins))
    assert len(collision.rules) == 2
    assert collision.releases == ()


def test_minutes_that_do_not_hold_two_looks_are_raised_to_what_does() -> None:
    judges = [JudgeOffer("Ann", frozenset({"Harness"}), max_minutes=10)]
    collision = told(harness(judges, minutes={"Harness": 9}))
    assert collision.lines[1] == "Ann is there for 10 minutes of judging."
    assert collision.releases[0].sentence == "Have Ann there for 18 minutes of judging."


def test_a_task_that_makes_no_sense_is_refused() -> None:
    judge = JudgeOffer("Ann", frozenset({"Harness"}))
    with pytest.raises(ValueError, match="offered twice"):
        explain(harness([judge, judge]))


def usual_show(**more: Any) -> Task:
    """40 wagons, 10 judges, 5 sections, 2 looks: the largest show the page must explain."""
    entries, sections = range(40), tuple(f"S{k}" for k in range(5))
    judges = [
        JudgeOffer(
            j, frozenset({sections[j % 5], sections[(j + 1) % 5]}), frozenset({j, j + 10, j + 20})
        )
        for j in range(10)
    ]
    return Task(
        entries=entries,
        entry_sections=dict.fromkeys(entries, sections),
        judges=judges,
        judges_per_section=dict.fromkeys(sections, 2),
        minutes=dict(zip(sections, (3, 4, 5, 6, 7), strict=True)),
        **more,
    )


@pytest.mark.parametrize("case", ["limits", "conflicts", "minutes", "pins"])
def test_a_usual_show_is_explained_while_somebody_waits(case: str) -> None:
    task = usual_show()
    assert explain(task) is None
    offers = list(task.judges)
    if case == "limits":
        offers = [replace(offer, max_seats=39) for offer in offers]
    elif case == "conflicts":
        offers = [
            replace(o, barred=o.barred | {35}) if j % 5 < 2 else o for j, o in enumerate(offers)
        ]
    elif case == "minutes":
        offers = [replace(offer, max_minutes=190) for offer in offers]
    pins = [Pin(0, 0, "S0")] if case == "pins" else []
    began = process_time()
    collision = explain(replace(task, judges=offers, pins=pins))
    assert collision is not None
    assert process_time() - began < 6  # seconds of this process; a third of that is usual
