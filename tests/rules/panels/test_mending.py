"""A mended panel is whole again, and everybody else keeps their seats."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.rules.panels.assignment import JudgeOffer, PanelImpossible, Seat, draw
from judging.rules.panels.mending import mend

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
