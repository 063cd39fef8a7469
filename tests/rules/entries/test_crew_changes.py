"""What is different between two crew lists."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from entries.rules.crew_changes import ADDED, CHANGED, REMOVED, CrewLine, differences

ADA, BEN = CrewLine("Ada Moor", "head_cook"), CrewLine("Ben Oak", "cook")
lines = st.builds(
    CrewLine,
    st.sampled_from(["A. O.", "a. o.", "Ben Oak", "Cy Elm", "Di Ash"]),
    st.sampled_from(["head_cook", "cook", "helper"]),
    st.booleans(),
)


def test_nothing_changed_and_another_order_is_no_change() -> None:
    assert differences([ADA, BEN], [BEN, ADA]) == ()


def test_a_part_a_spelling_and_an_age_are_changes_of_the_same_person() -> None:
    for new in (
        CrewLine("Ben Oak", "helper"),
        CrewLine("Ben  OAK", "cook"),
        CrewLine("Ben Oak", "cook", under_age=True),
    ):
        (one,) = differences([ADA, BEN], [ADA, new])
        assert (one.what, one.line, one.before) == (CHANGED, new, BEN)


def test_two_who_share_their_initials_are_two_people() -> None:
    child = CrewLine("A. O.", "helper", under_age=True)
    assert [one.what for one in differences([ADA, child], [ADA, child, child])] == [ADDED]
    assert [one.what for one in differences([ADA, child, child], [ADA, child])] == [REMOVED]
    assert differences([ADA, child, child], [child, ADA, child]) == ()


def test_the_log_says_name_part_and_age() -> None:
    assert CrewLine("A. O.", "helper", under_age=True).in_words() == "A. O., helper, under age"
    assert ADA.in_words() == "Ada Moor, head cook"


@given(st.lists(lines, max_size=6), st.lists(lines, max_size=6))
def test_the_log_leads_from_the_old_list_to_the_new(
    old: list[CrewLine], new: list[CrewLine]
) -> None:
    there = list(old)
    for one in differences(old, new):
        if one.what == ADDED:
            there.append(one.line)
        elif one.what == REMOVED:
            there.remove(one.line)
        else:
            assert one.before is not None
            there.remove(one.before)
            there.append(one.line)
    assert sorted(map(repr, there)) == sorted(map(repr, new))
