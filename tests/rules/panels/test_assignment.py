"""Drawing panels: rules kept, loads as equal as can be, and a provable reason where impossible."""

from __future__ import annotations

from collections import Counter
from itertools import combinations, product
from typing import Any

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.rules.panels.assignment import Draw, JudgeOffer, PanelImpossible, Pin, draw

SECTIONS = ("Wagon", "Harness", "Fire")


@st.composite
def shows(draw_from: st.DrawFn) -> dict[str, Any]:
    entries = list(range(draw_from(st.integers(1, 5))))
    judges = [
        JudgeOffer(
            f"judge {j}",
            draw_from(st.frozensets(st.sampled_from(SECTIONS), min_size=1)),
            draw_from(st.frozensets(st.sampled_from(entries), max_size=2)),
            draw_from(st.one_of(st.none(), st.integers(0, 6))),
            novice=draw_from(st.booleans()),
        )
        for j in range(draw_from(st.integers(1, 5)))
    ]
    return {
        "entries": entries,
        "entry_sections": {
            entry: tuple(draw_from(st.lists(st.sampled_from(SECTIONS), unique=True)))
            for entry in entries
        },
        "judges": judges,
        "judges_per_section": {s: draw_from(st.integers(0, 3)) for s in SECTIONS},
        "seed": draw_from(st.integers(0, 3)),
        "pins": draw_from(st.lists(pins(judges, entries), max_size=2)),
        "novices_beside_seniors": draw_from(st.booleans()),
    }


def pins(judges: list[JudgeOffer], entries: list[int]) -> st.SearchStrategy[Pin]:
    return st.builds(
        Pin,
        st.sampled_from([offer.judge for offer in judges]),
        st.sampled_from(entries),
        st.one_of(st.none(), st.sampled_from(SECTIONS)),
        st.booleans(),
    )


def pinned(show: dict[str, Any], must: bool) -> set[tuple[Any, int, str]]:
    """Where pins say a judge must, or must not, sit; read from what a pin is, not from the rule."""
    found = set()
    for pin in show["pins"]:
        offer = next(offer for offer in show["judges"] if offer.judge == pin.judge)
        there = show["entry_sections"][pin.entry]
        mine = [section for section in there if section in offer.sections] if must else there
        if pin.must == must:
            found |= {
                (pin.judge, pin.entry, section)
                for section in (mine or there)
                if pin.section is None
            } | {(pin.judge, pin.entry, section) for section in there if section == pin.section}
    return found


def may_sit(show: dict[str, Any], offer: JudgeOffer, entry: Any, section: str) -> bool:
    out = (offer.judge, entry, section) in pinned(show, must=False)
    return section in offer.sections and entry not in offer.barred and not out


def pins_can_be(show: dict[str, Any]) -> bool:
    """Whether the seats set by hand keep every rule by themselves."""
    must = pinned(show, must=True)
    offers = {offer.judge: offer for offer in show["judges"]}
    if not all(may_sit(show, offers[judge], entry, section) for judge, entry, section in must):
        return False
    for (_, section), sitting in by_place(must).items():
        looks = show["judges_per_section"][section]
        novices = sum(offers[judge].novice for judge in sitting)
        if len(sitting) > looks or (show["novices_beside_seniors"] and novices > looks - 1 >= 0):
            return False
    seats = Counter(judge for judge, _, _ in must)
    return all(
        offer.max_seats is None or seats[judge] <= offer.max_seats
        for judge, offer in offers.items()
    )


def by_place(seats: set[tuple[Any, Any, str]]) -> dict[tuple[Any, str], set[Any]]:
    found: dict[tuple[Any, str], set[Any]] = {}
    for judge, entry, section in seats:
        found.setdefault((entry, section), set()).add(judge)
    return found


def network(show: dict[str, Any]) -> tuple[nx.DiGraph[Any], int]:
    """The same flow built a second time for an independent solver, and the looks asked for."""
    graph: nx.DiGraph[Any] = nx.DiGraph()
    graph.add_nodes_from(["source", "sink"])
    asked = 0
    must = by_place(pinned(show, must=True))
    bound = Counter(judge for sitting in must.values() for judge in sitting)
    novice = {offer.judge for offer in show["judges"] if offer.novice}
    for entry in show["entries"]:
        for section in show["entry_sections"][entry]:
            place, there = (entry, section), must.get((entry, section), set())
            looks = show["judges_per_section"][section]
            asked += looks - len(there)
            graph.add_edge(place, "sink", capacity=looks - len(there), weight=0)
            side = ("novices", place)
            if show["novices_beside_seniors"]:
                left = max(looks - 1, 0) - len(there & novice)
                graph.add_edge(side, place, capacity=left, weight=0)
            for offer in show["judges"]:
                if may_sit(show, offer, entry, section) and offer.judge not in there:
                    beside = offer.novice and show["novices_beside_seniors"]
                    graph.add_edge(offer.judge, side if beside else place, capacity=1, weight=0)
    for offer in show["judges"]:
        all_looks = asked + bound[offer.judge]
        limit = all_looks if offer.max_seats is None else min(all_looks, offer.max_seats)
        for seat in range(bound[offer.judge], limit):
            step = (offer.judge, "seat", seat)
            graph.add_edge("source", step, capacity=1, weight=2 * seat + 1)
            graph.add_edge(step, offer.judge, capacity=1, weight=0)
    return graph, asked


@given(shows())
@settings(max_examples=300, deadline=None)
def test_rules_and_balance_agree_with_an_independent_flow(show: dict[str, Any]) -> None:
    if not pins_can_be(show):
        with pytest.raises(PanelImpossible) as caught:
            draw(**show)
        assert caught.value.short == 0
        assert caught.value.sentences
        return
    graph, asked = network(show)
    possible = nx.maximum_flow_value(graph, "source", "sink")
    if possible < asked:
        with pytest.raises(PanelImpossible) as caught:
            draw(**show)
        assert caught.value.short == asked - possible
        assert all(s.needed - s.available == s.short > 0 for s in caught.value.shortages)
        return
    panel = draw(**show)
    check_rules(show, panel)
    cheapest = nx.max_flow_min_cost(graph, "source", "sink")
    bound = Counter(judge for judge, _, _ in pinned(show, must=True))
    least = nx.cost_of_flow(graph, cheapest) + sum(seats**2 for seats in bound.values())
    assert sum(load**2 for load in panel.loads.values()) == least == panel.balance.bound
    assert panel.balance.proved
    assert panel.connected == connected_by_networkx(panel)


def check_rules(show: dict[str, Any], panel: Draw) -> None:
    offers = {offer.judge: offer for offer in show["judges"]}
    assert len(set(panel.seats)) == len(panel.seats)
    for seat in panel.seats:
        assert may_sit(show, offers[seat.judge], seat.entry, seat.section)
    sitting: set[tuple[Any, Any, str]] = {
        (seat.judge, seat.entry, seat.section) for seat in panel.seats
    }
    assert pinned(show, must=True) <= sitting
    for there in by_place(sitting).values() if show["novices_beside_seniors"] else ():
        assert not all(offers[judge].novice for judge in there)
    looks = Counter((seat.entry, seat.section) for seat in panel.seats)
    for entry in show["entries"]:
        for section in show["entry_sections"][entry]:
            assert looks.pop((entry, section), 0) == show["judges_per_section"][section]
    assert not looks
    seats = Counter(seat.judge for seat in panel.seats)
    assert panel.loads == {judge: seats[judge] for judge in offers}
    for judge, offer in offers.items():
        assert offer.max_seats is None or panel.loads[judge] <= offer.max_seats


def connected_by_networkx(panel: Draw) -> dict[str, bool]:
    answer = {}
    for section in panel.connected:
        graph: nx.Graph[Any] = nx.Graph()
        for seat in panel.seats:
            if seat.section == section:
                graph.add_edge(("entry", seat.entry), ("judge", seat.judge))
        answer[section] = nx.number_connected_components(graph) <= 1
    return answer


@given(
    barred=st.lists(st.frozensets(st.integers(0, 2), max_size=1), min_size=2, max_size=3),
    looks=st.integers(1, 2),
)
@settings(max_examples=40, deadline=None)
def test_balance_is_the_best_of_all_panels(barred: list[frozenset[int]], looks: int) -> None:
    entries = [0, 1, 2]
    judges = [JudgeOffer(j, frozenset({"Wagon"}), out) for j, out in enumerate(barred)]
    choices = [
        list(combinations([j for j, out in enumerate(barred) if entry not in out], looks))
        for entry in entries
    ]
    costs = [
        sum(n * n for n in Counter(j for place in whole for j in place).values())
        for whole in product(*choices)
    ]
    show: dict[str, Any] = {
        "entries": entries,
        "entry_sections": dict.fromkeys(entries, ("Wagon",)),
        "judges": judges,
        "judges_per_section": {"Wagon": looks},
        "seed": 0,
    }
    if not costs:
        with pytest.raises(PanelImpossible):
            draw(**show)
        return
    assert sum(load**2 for load in draw(**show).loads.values()) == min(costs)


def harness(judges: list[JudgeOffer], looks: int, wagons: int = 10, seed: int = 0) -> Draw:
    entries = range(1, wagons + 1)
    return draw(
        entries=entries,
        entry_sections=dict.fromkeys(entries, ("Harness",)),
        judges=judges,
        judges_per_section={"Harness": looks},
        seed=seed,
        names={4: "wagon 4"},
    )


def test_a_conflict_explains_the_shortage() -> None:
    with pytest.raises(PanelImpossible) as caught:
        harness(
            [
                JudgeOffer("Harlan", frozenset({"Harness"}), frozenset({4})),
                JudgeOffer("Cole", frozenset({"Harness"})),
                JudgeOffer("Wynn", frozenset({"Fire"})),
            ],
            looks=3,
        )
    assert str(caught.value) == (
        "Harness needs 30 looks (10 wagons x 3 judges) but only 2 judges may judge it and can "
        "give 19: Harlan 9 (in conflict with wagon 4), Cole 10; 11 looks short."
    )
    assert caught.value.short == 11
    assert caught.value.shortages[0].judges == ("Harlan", "Cole")


def test_only_the_places_that_lack_a_judge_are_named() -> None:
    with pytest.raises(PanelImpossible, match=r"^Harness at wagon 4 needs 2 looks") as caught:
        harness(
            [
                JudgeOffer("Harlan", frozenset({"Harness"}), frozenset({4})),
                JudgeOffer("Cole", frozenset({"Harness"})),
            ],
            looks=2,
        )
    assert caught.value.short == 1
    assert caught.value.shortages[0].entries == (4,)


def test_limits_explain_the_shortage() -> None:
    with pytest.raises(PanelImpossible) as caught:
        harness(
            [JudgeOffer(name, frozenset({"Harness"}), frozenset(), 4) for name in "AB"], looks=1
        )
    assert str(caught.value) == (
        "Harness needs 10 looks (10 wagons x 1 judge) but only 2 judges may judge it and can "
        "give 8: A 4 (limit 4 seats), B 4 (limit 4 seats); 2 looks short."
    )


def test_nobody_holds_the_section() -> None:
    with pytest.raises(PanelImpossible) as caught:
        harness([JudgeOffer("Wynn", frozenset({"Fire"}))], looks=1)
    assert str(caught.value) == (
        "Harness needs 10 looks (10 wagons x 1 judge) but no judge may judge it; 10 looks short."
    )


def test_sections_that_share_a_judge_are_short_together() -> None:
    with pytest.raises(PanelImpossible) as caught:
        draw(
            entries=[1, 2],
            entry_sections={1: ("Harness", "Fire"), 2: ("Harness", "Fire")},
            judges=[JudgeOffer("Cole", frozenset({"Harness", "Fire"}), frozenset(), 3)],
            judges_per_section={"Harness": 1, "Fire": 1},
            seed=0,
        )
    assert str(caught.value) == (
        "Harness and Fire together need 4 looks (Harness: 2 wagons x 1 judge; Fire: 2 wagons x "
        "1 judge) but only 1 judge may judge them and can give 3: Cole 3 (limit 3 seats); "
        "1 look short."
    )


def test_a_long_list_of_judges_is_cut_but_still_adds_up() -> None:
    judges = [JudgeOffer(f"J{j}", frozenset({"Harness"})) for j in range(11)]
    judges.append(JudgeOffer("Harlan", frozenset({"Harness"}), frozenset({4})))
    with pytest.raises(PanelImpossible, match=r"Harlan 0 .*, 4 more 4 between them; 1 look short"):
        harness(judges, looks=12)


def test_the_same_seed_gives_the_same_panel_and_seeds_share_the_luck() -> None:
    judges = [JudgeOffer(name, frozenset({"Harness"})) for name in ("A", "B", "C")]
    assert harness(judges, looks=1, seed=5) == harness(judges, looks=1, seed=5)
    extra = Counter(
        max(panel.loads, key=lambda judge: panel.loads[judge])
        for panel in (harness(judges, looks=1, seed=seed) for seed in range(30))
    )
    assert all(extra[offer.judge] > 0 for offer in judges)


@pytest.mark.parametrize("seed", range(10))
def test_judges_are_tied_together_where_seats_can_be_exchanged(seed: int) -> None:
    judges = [JudgeOffer(j, frozenset({"Harness"})) for j in range(6)]
    panel = harness(judges, looks=2, wagons=6, seed=seed)
    assert panel.connected == {"Harness": True}
    assert set(panel.loads.values()) == {2}
    assert harness(judges, looks=1, wagons=6, seed=seed).connected == {"Harness": False}


def test_wrong_input_is_refused() -> None:
    judge = JudgeOffer("Cole", frozenset({"Harness"}))
    with pytest.raises(ValueError, match="offered twice"):
        harness([judge, judge], looks=1)
    with pytest.raises(ValueError, match="no number of judges"):
        draw(
            entries=[1],
            entry_sections={1: ("Fire",)},
            judges=[judge],
            judges_per_section={"Harness": 1},
            seed=0,
        )
    with pytest.raises(ValueError, match="entry is given twice"):
        draw(entries=[1, 1], entry_sections={1: ()}, judges=[], judges_per_section={}, seed=0)
    with pytest.raises(ValueError, match="section is given twice"):
        draw(
            entries=[1],
            entry_sections={1: ("Fire", "Fire")},
            judges=[],
            judges_per_section={"Fire": 1},
            seed=0,
        )
    with pytest.raises(ValueError, match="below zero"):
        JudgeOffer("Cole", frozenset(), frozenset(), -1)
