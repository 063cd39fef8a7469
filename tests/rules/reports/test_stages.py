"""The stages of a show day, walked from an empty show to the last paper."""

from __future__ import annotations

from dataclasses import replace

import pytest

from reports.rules.stage_words import Counts
from reports.rules.stages import State, next_stage, stages

# What each stage needs on top of the one before it, in the order of the day.
DAY: list[tuple[str, dict[str, object]]] = [
    ("entries", {"entries_confirmed": 5}),
    ("scorecard", {"has_scorecard": True}),
    ("judges", {"judges": 4}),
    ("panel", {"seats": 30}),
    ("window", {"window_sized": True, "minutes_needed": 70, "minutes_available": 300}),
    ("published", {"window_published": True}),
    ("phones", {"judges_seated": 4, "judges_paired": 4}),
    ("judging", {"cards_begun": 20, "cards_in": 20, "cards_expected": 20}),
    ("questions", {"checks_current": True}),
    ("signed", {"classes_judged": 2, "results_computed": 2, "results_signed": 2}),
    ("released", {"results_released": 2}),
    ("papers", {"classes_on_paper": 2, "papers_made": 20}),
]


def counts_before(code: str) -> Counts:
    """Return the counts with every stage before this one done."""
    counts = Counts()
    for name, more in DAY:
        if name == code:
            return counts
        counts = replace(counts, **more)  # type: ignore[arg-type]
    raise AssertionError(code)


def told(counts: Counts, code: str) -> tuple[State, str]:
    stage = next(stage for stage in stages(counts) if stage.code == code)
    return stage.state, stage.sentence


@pytest.mark.parametrize("code", [code for code, _ in DAY])
def test_each_stage_is_next_when_all_before_it_are_done(code: str):
    day = [stage for stage in stages(counts_before(code)) if stage.code != "norming"]
    states = [stage.state for stage in day]
    at = [stage.code for stage in day].index(code)
    assert states[:at] == [State.DONE] * at
    assert states[at] is State.NOW
    assert set(states[at + 1 :]) <= {State.LATER}
    ahead = next_stage(day)
    assert ahead is not None
    assert ahead.code == code
    assert ahead.sentence
    assert ":" in ahead.page


def test_the_order_is_the_order_of_the_day():
    codes = [stage.code for stage in stages(Counts())]
    assert codes.index("phones") + 1 == codes.index("norming") == codes.index("judging") - 1
    assert [code for code in codes if code != "norming"] == [code for code, _ in DAY]


def test_with_everything_done_nothing_is_next():
    counts = replace(counts_before("papers"), classes_on_paper=2, papers_made=20)
    day = stages(counts)
    assert {stage.code for stage in day if stage.state is not State.DONE} == {"norming"}
    assert next_stage(day) is None


def test_norming_is_told_and_never_in_the_way():
    before = counts_before("judging")
    state, sentence = told(before, "norming")
    assert state is State.OPTIONAL
    assert "one practice wagon" in sentence
    begun = replace(before, cards_begun=1)
    assert told(begun, "norming") == (State.OPTIONAL, "No practice wagon was set up.")
    at_it = replace(before, practice_set_up=True, practice_open=True, practice_judges=5)
    some = replace(at_it, practice_marked=3)
    assert told(some, "norming") == (
        State.OPTIONAL,
        "The practice wagon is set up; 3 of 5 judges have marked it.",
    )
    assert told(replace(at_it, practice_marked=5), "norming")[0] is State.DONE
    closed = replace(some, practice_open=False)
    assert told(closed, "norming") == (
        State.DONE,
        "The practice wagon is closed; 3 of 5 judges have marked it.",
    )
    for counts in (before, begun, some, closed):
        ahead = next_stage(stages(counts))
        assert ahead is not None
        assert ahead.code == "judging"


def test_a_stage_done_early_stays_done_while_an_earlier_one_is_next():
    day = stages(Counts(entries_to_confirm=2, judges_seated=3, judges_paired=3))
    by_code = {stage.code: stage.state for stage in day}
    assert by_code["entries"] is State.NOW
    assert by_code["phones"] is State.DONE
    assert by_code["panel"] is State.LATER


def test_a_late_entry_calls_for_the_office_until_judging_has_begun():
    before = replace(counts_before("judging"), entries_to_confirm=1)
    assert told(before, "entries") == (State.NOW, "1 entry waits to be confirmed; 5 are.")
    begun = replace(before, cards_begun=1, cards_in=0, cards_expected=20)
    assert told(begun, "entries")[0] is State.DONE
    assert told(begun, "judging") == (State.NOW, "0 of 20 cards are in; 20 to come.")


def test_an_undeclared_class_is_named():
    counts = replace(counts_before("judges"), classes_undeclared=("Trail wagon", "Dutch oven"))
    state, sentence = told(counts, "scorecard")
    assert state is State.NOW
    assert "Trail wagon, Dutch oven" in sentence


def test_a_section_with_too_few_judges_is_named_with_its_counts():
    counts = replace(
        counts_before("judges"), judges=2, sections_short=(("Harness", 1, 3), ("Camp kit", 2, 3))
    )
    assert told(counts, "judges") == (
        State.NOW,
        "Harness needs 3 judges and has 1. 1 more section is short too.",
    )


def test_a_judge_who_left_is_not_missed_where_every_seat_is_taken():
    counts = replace(counts_before("judging"), sections_short=(("Harness", 2, 3),))
    assert told(counts, "judges")[0] is State.DONE
    missed = replace(counts, seats_missing=1)
    assert told(missed, "judges") == (State.NOW, "Harness needs 3 judges and has 2.")


@pytest.mark.parametrize(("begun", "way_out"), [(0, "draw the panel again"), (1, "mend the panel")])
def test_seats_missing_after_the_draw_name_the_way_out(begun: int, way_out: str):
    counts = replace(counts_before("window"), seats_missing=2, cards_begun=begun)
    state, sentence = told(counts, "panel")
    assert state is State.NOW
    assert sentence.startswith("2 seats are missing")
    assert way_out in sentence


def test_a_window_too_short_is_not_done():
    counts = replace(
        counts_before("window"), window_sized=True, minutes_needed=320, minutes_available=300
    )
    state, sentence = told(counts, "window")
    assert state is State.NOW
    assert "320 minutes, 20 more than there are" in sentence


def test_phones_are_counted():
    counts = replace(counts_before("phones"), judges_seated=4, judges_paired=3)
    assert told(counts, "phones") == (State.NOW, "3 of 4 judges have a paired phone.")


def test_the_last_card_must_be_seen_by_the_checks():
    counts = counts_before("questions")
    assert told(counts, "questions")[0] is State.NOW
    assert "have not run since the last card" in told(counts, "questions")[1]
    asked = replace(counts, checks_current=True, questions_open=2)
    assert told(asked, "questions") == (
        State.NOW,
        "2 questions wait for a judge's answer.",
    )


def test_no_class_counts_as_no_result():
    counts = replace(counts_before("signed"), classes_judged=0)
    assert told(counts, "signed")[0] is State.NOW
    assert told(counts, "released")[0] is State.LATER
    assert told(counts, "papers")[0] is State.LATER


def test_one_class_of_two_is_not_enough():
    computed = replace(counts_before("signed"), classes_judged=2, results_computed=1)
    assert told(computed, "signed")[1] == "1 of 2 classes computed; compute the others."
    signed = replace(computed, results_computed=2, results_signed=1)
    assert told(signed, "signed") == (State.NOW, "1 of 2 classes signed by two hands.")
    released = replace(counts_before("released"), results_released=1)
    assert told(released, "released") == (State.NOW, "1 of 2 classes released.")


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        ({"papers_failed": 1}, "1 paper could not be drawn."),
        ({"papers_made": 3, "papers_waiting": 7}, "3 of 10 papers made."),
        ({"papers_made": 10, "classes_on_paper": 1}, "1 of 2 classes on paper."),
    ],
)
def test_papers_not_all_made_are_not_done(more: dict[str, int], sentence: str):
    counts = replace(counts_before("papers"), **more)  # type: ignore[arg-type]
    assert told(counts, "papers") == (State.NOW, sentence)
