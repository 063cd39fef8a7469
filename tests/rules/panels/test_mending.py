"""A mended panel is whole again, and everybody else keeps their seats."""

from __future__ import annotations

from collections import Counter
from itertools import combinations, product
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.rules.panels.assignment import JudgeOffer, PanelImpossible, Pin, Seat, draw
from judging.rules.panels.mending import Change, mend

SECTIONS = ("gear", "camp", "harness")
NEEDED = dict.fromkeys(SECTIONS, 2)


def offers(barred=None, absent=()):
    return [
        JudgeOffer(name, frozenset(SECTIONS), frozenset((barred or {}).get(name, ())))
        for name in ("Ann", "Bob", "Cy", "Dot")
        if name not in absent
    ]


def sections(entries):
    return dict.fromkeys(entries, SECTIONS)


def drawn(entries, judges):
    return draw(
        entries=entries,
        entry_sections=sections(entries),
        judges=judges,
        judges_per_section=NEEDED,
        seed=3,
    ).seats


def mended(seats, entries, judges):
    change = mend(
        seats=seats,
        entries=entries,
        entry_sections=sections(entries),
        judges=judges,
        judges_per_section=NEEDED,
        seed=3,
    )
    return change, [seat for seat in seats if seat not in change.dropped] + list(change.added)


def assert_whole(seats, entries, judges):
    by_judge = {offer.judge: offer for offer in judges}
    count = Counter((seat.entry, seat.section) for seat in seats)
    assert count == {(e, s): 2 for e in entries for s in SECTIONS}
    assert len(set(seats)) == len(seats)
    assert all(by_judge[seat.judge].may_sit(seat.entry, seat.section) for seat in seats)


def test_a_whole_panel_is_left_alone():
    entries = [1, 2, 3, 4]
    seats = drawn(entries, offers())
    change, _ = mended(seats, entries, offers())
    assert (change.added, change.dropped) == ((), ())


def test_a_late_wagon_gets_its_judges_from_the_least_loaded():
    seats = drawn([1, 2, 3, 4], offers())
    change, after = mended(seats, [1, 2, 3, 4, 5], offers())
    assert not change.dropped
    assert {seat.entry for seat in change.added} == {5}
    assert_whole(after, [1, 2, 3, 4, 5], offers())
    loads = Counter(seat.judge for seat in after)
    assert max(loads.values()) - min(loads.values()) <= 1


def test_a_conflict_found_late_moves_only_that_judge_from_that_wagon():
    entries = [1, 2, 3, 4]
    seats = drawn(entries, offers())
    judge = seats[0].judge
    barred = offers(barred={judge: {1}})
    change, after = mended(seats, entries, barred)
    assert change.dropped
    assert all((s.judge, s.entry) == (judge, 1) for s in change.dropped)
    assert {s.entry for s in change.added} == {1}
    assert_whole(after, entries, barred)


def test_the_seats_of_a_judge_who_fell_ill_go_to_the_others():
    entries = [1, 2, 3, 4]
    seats = drawn(entries, offers())
    left = offers(absent=("Bob",))
    change, after = mended(seats, entries, left)
    assert {seat.judge for seat in change.dropped} == {"Bob"}
    assert_whole(after, entries, left)


def test_the_seats_at_a_scratched_wagon_are_dropped():
    seats = drawn([1, 2, 3, 4], offers())
    change, after = mended(seats, [1, 2, 3], offers())
    assert {seat.entry for seat in change.dropped} == {4}
    assert not change.added
    assert_whole(after, [1, 2, 3], offers())


def test_what_cannot_be_filled_is_said_by_name():
    seats = drawn([1, 2], offers())
    with pytest.raises(PanelImpossible, match=r"\d+ looks? short"):
        mended(seats, [1, 2], offers(absent=("Bob", "Cy", "Dot")))


@given(
    st.sets(st.tuples(st.sampled_from(["Ann", "Bob", "Cy", "Dot"]), st.integers(1, 5)), max_size=4)
)
def test_it_is_whole_or_impossible_and_never_seats_a_conflict(pairs):
    entries = [1, 2, 3, 4, 5]
    seats: tuple[Seat, ...] = drawn(entries[:4], offers())
    barred: dict[str, set[int]] = {}
    for judge, entry in pairs:
        barred.setdefault(judge, set()).add(entry)
    judges = offers(barred=barred)
    blocked = Counter(entry for _, entry in pairs)
    if any(count > 2 for count in blocked.values()):
        with pytest.raises(PanelImpossible):
            mended(seats, entries, judges)
    else:
        assert_whole(mended(seats, entries, judges)[1], entries, judges)


# --- The least change ----------------------------------------------------------------------


def camp(name: str, barred: tuple[int, ...] = (), limit: int | None = None) -> JudgeOffer:
    return JudgeOffer(name, frozenset({"camp"}), frozenset(barred), limit)


def test_a_seat_is_handed_on_where_nobody_free_may_sit() -> None:
    """Ann may not sit at 1 any more, and Bob, who may, has no seat to spare: they change."""
    change = mend(
        seats=[Seat(1, "camp", "Ann"), Seat(2, "camp", "Bob"), Seat(3, "camp", "Cy")],
        entries=[1, 2, 3],
        entry_sections=dict.fromkeys([1, 2, 3], ("camp",)),
        judges=[camp("Ann", (1,), 1), camp("Bob", (), 1), camp("Cy", (1,), 1)],
        judges_per_section={"camp": 1},
        seed=1,
    )
    assert set(change.added) == {Seat(1, "camp", "Bob"), Seat(2, "camp", "Ann")}
    assert set(change.dropped) == {Seat(1, "camp", "Ann"), Seat(2, "camp", "Bob")}
    assert change.handed_on == 1
    assert set(change.changes) == {
        Change(1, "camp", ("Ann",), ("Bob",)),
        Change(2, "camp", ("Bob",), ("Ann",)),
    }


def test_a_seat_whose_card_is_in_work_is_not_handed_on() -> None:
    asked: dict[str, Any] = {
        "seats": [Seat(1, "camp", "Ann"), Seat(2, "camp", "Bob")],
        "entries": [1, 2],
        "entry_sections": dict.fromkeys([1, 2], ("camp",)),
        "judges": [camp("Ann", (1,), 1), camp("Bob", (), 1)],
        "judges_per_section": {"camp": 1},
        "seed": 1,
    }
    assert mend(**asked).handed_on == 1
    with pytest.raises(PanelImpossible, match=r"Bob 0 \(limit 1 seat, 1 set elsewhere\)"):
        mend(**asked, settled=[Seat(2, "camp", "Bob")])


def test_lowered_limits_take_no_card_in_work_away() -> None:
    asked: dict[str, Any] = {
        "seats": [Seat(1, "camp", "Ann"), Seat(2, "camp", "Ann"), Seat(3, "camp", "Ann")],
        "entries": [1, 2, 3],
        "entry_sections": dict.fromkeys([1, 2, 3], ("camp",)),
        "judges": [camp("Ann", (), 1), camp("Bob")],
        "judges_per_section": {"camp": 1},
        "seed": 1,
    }
    assert len(mend(**asked).dropped) == 2
    settled = [Seat(1, "camp", "Ann"), Seat(2, "camp", "Ann")]
    assert mend(**asked, settled=settled).dropped == (Seat(3, "camp", "Ann"),)


def test_fewer_looks_a_place_drop_the_busier_judge() -> None:
    change = mend(
        seats=[Seat(1, "camp", "Ann"), Seat(1, "camp", "Bob"), Seat(2, "camp", "Ann")],
        entries=[1, 2],
        entry_sections=dict.fromkeys([1, 2], ("camp",)),
        judges=[camp("Ann"), camp("Bob")],
        judges_per_section={"camp": 1},
        seed=1,
    )
    assert (change.added, change.dropped) == ((), (Seat(1, "camp", "Ann"),))


@st.composite
def torn_panels(draw_from: st.DrawFn) -> dict[str, Any]:
    """A panel as it was, and a show that changed under it; small enough to try everything."""
    names, entries = ["Ann", "Bob", "Cy"], [1, 2, 3]
    parts = ("camp", "gear")
    judges = [
        JudgeOffer(
            name,
            draw_from(st.frozensets(st.sampled_from(parts), min_size=1)),
            draw_from(st.frozensets(st.sampled_from(entries), max_size=1)),
            draw_from(st.one_of(st.none(), st.integers(1, 4))),
            novice=draw_from(st.booleans()),
            max_minutes=draw_from(st.one_of(st.none(), st.integers(3, 20))),
        )
        for name in draw_from(st.sampled_from([names, names[:2]]))
    ]
    every = [Seat(e, s, name) for e in [*entries, 9] for s in parts for name in names]
    return {
        "seats": draw_from(st.lists(st.sampled_from(every), unique=True, max_size=8)),
        "entries": entries,
        "entry_sections": {1: parts, 2: parts, 3: ("camp",)},
        "judges": judges,
        "judges_per_section": {"camp": draw_from(st.integers(1, 2)), "gear": 1},
        "seed": draw_from(st.integers(0, 2)),
        "novices_beside_seniors": draw_from(st.booleans()),
        "minutes": {"camp": 3, "gear": 4},
    }


def every_whole_panel(show: dict[str, Any]) -> list[set[Seat]]:
    by_name = {offer.judge: offer for offer in show["judges"]}

    def groups(entry: int, section: str) -> list[tuple[Seat, ...]]:
        who = [o.judge for o in show["judges"] if o.may_sit(entry, section)]
        found = combinations(who, show["judges_per_section"][section])
        return [
            tuple(Seat(entry, section, judge) for judge in group)
            for group in found
            if not show["novices_beside_seniors"] or not all(by_name[j].novice for j in group)
        ]

    panels = [
        {seat for group in whole for seat in group}
        for whole in product(
            *(groups(e, s) for e in show["entries"] for s in show["entry_sections"][e])
        )
    ]
    return [panel for panel in panels if all(in_limits(show, panel, o) for o in show["judges"])]


def in_limits(show: dict[str, Any], panel: set[Seat], offer: JudgeOffer) -> bool:
    own = [seat for seat in panel if seat.judge == offer.judge]
    minutes = sum(show["minutes"][seat.section] for seat in own)
    return (offer.max_seats is None or len(own) <= offer.max_seats) and (
        offer.max_minutes is None or minutes <= offer.max_minutes
    )


@given(torn_panels())
@settings(max_examples=250, deadline=None)
def test_no_panel_has_fewer_new_seats_and_none_of_those_is_more_equal(show: dict[str, Any]) -> None:
    panels = every_whole_panel(show)
    if not panels:
        with pytest.raises(PanelImpossible):
            mend(**show)
        return
    change, before = mend(**show), set(show["seats"])
    after = (before - set(change.dropped)) | set(change.added)
    assert after in panels
    assert not set(change.added) & before
    assert set(change.dropped) <= before
    fewest = min(len(panel - before) for panel in panels)
    assert len(change.added) == fewest
    assert squares(after) == min(squares(p) for p in panels if len(p - before) == fewest)


def squares(panel: set[Seat]) -> int:
    return sum(count**2 for count in Counter(seat.judge for seat in panel).values())


def test_pins_set_since_are_kept_and_one_change_is_enough() -> None:
    change = mend(
        seats=[Seat(1, "camp", "Ann"), Seat(2, "camp", "Bob")],
        entries=[1, 2],
        entry_sections=dict.fromkeys([1, 2], ("camp",)),
        judges=[camp("Ann"), camp("Bob"), camp("Cy")],
        judges_per_section={"camp": 1},
        seed=1,
        pins=[Pin("Cy", 1), Pin("Bob", 1, must=False)],
    )
    assert (change.added, change.dropped) == ((Seat(1, "camp", "Cy"),), (Seat(1, "camp", "Ann"),))
