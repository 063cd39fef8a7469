"""What an exhibitor does next."""

from __future__ import annotations

from dataclasses import replace

import pytest

from entries.rules.places import Status
from reports.rules.next_step import Stand, Where, next_steps

LACKS = (("The waiver is not agreed to.", "waiver_agreed_by"), ("Belle: no date.", "animal_eia_1"))
FULL = Stand(
    Status.CONFIRMED, lacks=LACKS, owed=15000, visit="today at 9:40 AM", places=(), unreleased=2
)


def wheres(stand: Stand) -> list[Where]:
    return [step.where for step in next_steps(stand)]


@pytest.mark.parametrize("status", [one for one in Status if one is not Status.PRACTICE])
def test_there_is_always_something_said(status: Status) -> None:
    assert all(step.sentence for step in next_steps(Stand(status)))
    assert next_steps(Stand(status))


def test_before_the_day_what_is_missing_comes_before_the_judge() -> None:
    assert wheres(FULL) == [Where.DETAILS, Where.BALANCE, Where.VISITS]


def test_on_the_day_the_judge_comes_first() -> None:
    assert wheres(replace(FULL, visit_today=True))[0] is Where.VISITS


def test_an_offered_place_comes_before_everything() -> None:
    offered = replace(FULL, status=Status.OFFERED, offered_until="Friday, 5:00 PM", visit="")
    first, *_ = next_steps(offered)
    assert first.where is Where.PLACE
    assert "Take it up by Friday, 5:00 PM." in first.sentence
    late = next_steps(replace(offered, offered_until=""))[0]
    assert late.where is Where.NOWHERE
    assert "run out" in late.sentence


def test_results_end_what_was_missing_but_not_what_is_owed() -> None:
    out = replace(FULL, visit="", judged=True, places=("First place in Trail wagon",))
    steps = next_steps(replace(out, unreleased=1))
    assert [step.where for step in steps] == [Where.RESULTS, Where.BALANCE]
    assert steps[0].sentence == (
        "Results are out: First place in Trail wagon. One class is still to come."
    )


def test_a_judge_still_comes_while_a_class_is_not_out() -> None:
    out = replace(FULL, lacks=(), owed=0, places=("First place in Trail wagon",))
    assert wheres(replace(out, unreleased=1)) == [Where.RESULTS, Where.VISITS]
    assert wheres(replace(out, unreleased=0)) == [Where.RESULTS]


def test_one_thing_missing_is_named_and_of_more_the_first() -> None:
    one = next_steps(Stand(Status.ENTERED, lacks=LACKS[:1]))[0]
    assert one.sentence == "Still missing: The waiver is not agreed to."
    assert one.more == "waiver_agreed_by"
    two = next_steps(Stand(Status.ENTERED, lacks=LACKS))[0]
    assert two.sentence == ("2 things are still missing. The first: The waiver is not agreed to.")


def test_with_nothing_open_it_says_so_by_standing() -> None:
    assert "number 3 in line" in next_steps(Stand(Status.WAITING, in_line=3))[0].sentence
    assert "office confirms" in next_steps(Stand(Status.ENTERED))[0].sentence
    assert wheres(Stand(Status.CONFIRMED)) == [Where.PREPARE]
    assert "Judging is over" in next_steps(Stand(Status.CONFIRMED, judged=True))[0].sentence


def test_a_scratched_entry_is_told_of_money_alone() -> None:
    assert wheres(replace(FULL, status=Status.SCRATCHED)) == [Where.NOWHERE, Where.BALANCE]
    assert wheres(replace(FULL, status=Status.SCRATCHED, owed=-500)) == [Where.NOWHERE]
