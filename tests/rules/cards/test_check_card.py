"""What the check of a card finds, and what it leaves in peace."""

from __future__ import annotations

from collections import defaultdict
from decimal import Decimal
from itertools import product
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.rules.cards.card_file import CardFile, CriterionFile, SectionFile, read_card_file
from judging.rules.cards.check_card import SECONDS_PER_ROW, ClassUse, Finding, Level, findings
from judging.rules.cards.scorecard import Form
from judging.rules.results.placing import place
from tests.small_card import RIGS, SCORECARD, SECTIONS

SMALL = read_card_file(SCORECARD)
SIX_UP, LEADERS = {"hitch": ["six_up"]}, {"hitch": ["four_up", "six_up"]}


def row(code: str, **more: Any) -> CriterionFile:
    scale = {"max_mark": Decimal(10), "step": Decimal("0.25")}
    return CriterionFile(code, code.title(), **scale | more)


def section(code: str, *rows: CriterionFile, points: str = "20", **more: Any) -> SectionFile:
    rows = rows or (row(f"{code}_1"), row(f"{code}_2"))
    return SectionFile(
        code, code.title(), Decimal(points), more.pop("minutes", 9), tuple(rows), **more
    )


def card(*sections: SectionFile) -> CardFile:
    return CardFile("Wagon", sections)


def found_in(
    what: CardFile, *classes: ClassUse, rigs: Any = RIGS, **more: Any
) -> dict[str, list[Finding]]:
    """The findings by code."""
    by_code: dict[str, list[Finding]] = defaultdict(list)
    for finding in findings(what, classes=classes, rigs=rigs, **more):
        by_code[finding.code].append(finding)
    return dict(by_code)


def only(found: dict[str, list[Finding]], code: str) -> Finding:
    """The one finding there is."""
    assert list(found) == [code]
    (finding,) = found[code]
    assert finding.sentence[0].isupper() and finding.sentence.endswith(".")
    return finding


def test_a_sound_card_is_left_in_peace() -> None:
    trail = ClassUse("Trail", SECTIONS, ("harness", "camp_kit"), 3, 7, Decimal(100))
    assert findings(SMALL, classes=[trail], rigs=RIGS) == ()


def test_without_classes_and_wagons_a_sound_card_is_left_in_peace_too() -> None:
    assert findings(SMALL, classes=[], rigs=[]) == ()


# -- points ----------------------------------------------------------------------------------


def test_points_that_do_not_add_up_to_what_is_announced() -> None:
    use = ClassUse("Trail", SECTIONS, possible_points=Decimal(110))
    finding = only(found_in(SMALL, use), "points-do-not-sum")
    assert (finding.level, finding.where) == (Level.STOPS, "classes.0")
    assert "announces 110 points" in finding.sentence
    assert "40 + 25 + 35 = 100" in finding.sentence


def test_hundredths_of_points_are_added_exactly() -> None:
    thirds = card(*(section(code, points="0.1") for code in "abc"))
    use = ClassUse("Trail", ("a", "b", "c"), possible_points=Decimal("0.3"))
    assert found_in(thirds, use) == {}


def test_a_section_without_a_row_on_a_wagon_of_the_show_stops() -> None:
    what = card(section("gear"), section("lead", row("bars", applies=LEADERS)))
    found = found_in(what, ClassUse("Trail", ("gear", "lead")))
    finding = only(found, "points-not-earned")
    assert (finding.level, finding.where) == (Level.STOPS, "sections.1")
    assert "no row on 2 of 5 wagons of this show" in finding.sentence
    assert "20 points cannot be earned" in finding.sentence
    assert "drop tongue, team of two" in finding.sentence


def test_a_section_without_a_row_on_some_other_rig_warns() -> None:
    what = card(section("gear"), section("lead", row("bars", applies=LEADERS)))
    four_up = [rig for rig in RIGS if rig["hitch"] != "team"]
    finding = only(found_in(what, rigs=four_up), "points-not-earned")
    assert finding.level is Level.WARNS
    assert "16 of the 48 rigs" in finding.sentence


# -- tie ladders -----------------------------------------------------------------------------

THREE = card(section("gear"), section("camp"), section("crew"))
ALL = ("gear", "camp", "crew")


@pytest.mark.parametrize(
    ("counted", "ladder", "code", "words"),
    [
        (ALL, ("gear", "camp", "crew"), "rung-never-decides", "rung 3 of the tie ladder, Crew"),
        (ALL, ("gear", "gear"), "rung-twice", "rung 2 of the tie ladder is Gear again"),
        (("gear", "camp"), ("crew",), "rung-not-counted", "does not count"),
        (("gear", "camp"), ("hats",), "rung-not-counted", "rung 1 of the tie ladder is hats"),
        (("gear", "camp"), ("gear", "camp"), "rung-never-decides", "rung 2"),
        (("gear",), ("gear",), "rung-never-decides", "Gear is the whole total"),
    ],
)
def test_a_rung_that_cannot_decide(
    counted: tuple[str, ...], ladder: tuple[str, ...], code: str, words: str
) -> None:
    uses = [ClassUse("Trail", counted, ladder), ClassUse("Rest", ALL)]
    finding = only(found_in(THREE, *uses), code)
    assert finding.where == "classes.0.tie_ladder"
    assert words in finding.sentence
    assert finding.level is (Level.WARNS if code == "rung-never-decides" else Level.STOPS)


@pytest.mark.parametrize("ladder", [(), ("gear",), ("gear", "camp"), ("crew", "camp")])
def test_a_ladder_whose_rungs_can_all_decide(ladder: tuple[str, ...]) -> None:
    assert found_in(THREE, ClassUse("Trail", ALL, ladder)) == {}


def test_a_section_worth_nothing_parts_nobody_and_leaves_the_last_one_settled() -> None:
    gate = section("gate", row("pin", max_mark=Decimal(1)), points="0", form=Form.PASS_FAIL)
    what = card(section("gear"), section("camp"), gate)
    use = ClassUse("Trail", ("gear", "camp", "gate"), ("gate", "gear", "camp"))
    first, last = found_in(what, use)["rung-never-decides"]
    assert "rung 1" in first.sentence and "worth no points" in first.sentence
    assert "rung 3 of the tie ladder, Camp" in last.sentence


def test_the_printed_ladder_whose_third_rung_can_never_decide() -> None:
    """Taste, tenderness, appearance, at weights 2.2858, 1.1428 and 0.5714, perfect 180.

    The ladder: Turn-ins and scoring, paparock.com, n.d. That with equal totals the third can
    never decide: Tie Breakers, California BBQ Association, about 2001. Five counting judges give
    at most nine points each, so a category is worth 45 times its weight.
    """
    weights = {"appearance": "0.5714", "taste": "2.2858", "tenderness": "1.1428"}
    worth = {code: (45 * Decimal(weight)).quantize(Decimal("0.01")) for code, weight in
             weights.items()}  # fmt: skip
    assert sum(worth.values()) == 180
    printed = card(*(section(code, points=str(points)) for code, points in worth.items()))
    ladder = ("taste", "tenderness", "appearance")
    finding = only(
        found_in(printed, ClassUse("Barbecue", tuple(worth), ladder)), "rung-never-decides"
    )
    assert "rung 3 of the tie ladder, Appearance" in finding.sentence
    assert found_in(printed, ClassUse("Barbecue", tuple(worth), ladder[:2])) == {}


@given(
    ladder=st.lists(st.sampled_from(ALL), unique=True, max_size=3),
    entries=st.lists(st.tuples(*[st.integers(0, 3)] * 3), min_size=2, max_size=12),
)
@settings(deadline=None)
def test_what_is_called_undecided_never_decides_a_placing(
    ladder: list[str], entries: list[tuple[int, ...]]
) -> None:
    """The same ladders, put to the rule that places wagons."""
    found = found_in(THREE, ClassUse("Trail", ALL, tuple(ladder)))
    by_section = {
        number: {code: Decimal(points) for code, points in zip(ALL, given, strict=True)}
        for number, given in enumerate(entries)
    }
    totals = {number: sum(points.values(), Decimal(0)) for number, points in by_section.items()}
    decided = {line.decided_by for line in place(totals, by_section, ladder)}
    never = ladder[-1] if "rung-never-decides" in found else None
    assert (never is not None) == (len(ladder) == 3)
    assert never is None or never not in decided


def test_every_other_rung_does_decide_somewhere() -> None:
    totals: dict[int, Decimal] = {}
    by_section = {}
    for number, points in enumerate(product(range(3), repeat=3)):
        by_section[number] = dict(zip(ALL, map(Decimal, points), strict=True))
        totals[number] = Decimal(sum(points))
    decided = {line.decided_by for line in place(totals, by_section, ALL)}
    assert decided >= {"gear", "camp"} and "crew" not in decided


# -- rows and wagons -------------------------------------------------------------------------


def test_a_row_no_rig_can_meet_stops() -> None:
    what = card(section("gear", row("hubs"), row("ghost", applies={"tongue": []})))
    finding = only(found_in(what), "row-on-no-rig")
    assert (finding.level, finding.where) == (Level.STOPS, "sections.0.criteria.1")


def test_rows_no_wagon_of_this_show_has_are_told_together() -> None:
    swing = [row(f"swing_{n}", applies=SIX_UP) for n in range(5)]
    what = card(section("gear", row("hubs"), *swing, row("bars", applies=LEADERS)))
    teams = [rig for rig in RIGS if rig["hitch"] == "team"]
    first, second = found_in(what, rigs=teams)["row-on-no-wagon"]
    assert first.level is Level.WARNS
    assert (first.where, second.where) == ("sections.0.criteria.1", "sections.0.criteria.6")
    assert "no wagon of this show is “six-up”" in first.sentence
    assert "“Swing_0”, “Swing_1”, “Swing_2” and 2 more rows" in first.sentence
    assert "“four-up or six-up”, so nobody is judged on “Bars”." in second.sentence
    assert found_in(what, rigs=RIGS) == {}


# -- ties, minutes, length -------------------------------------------------------------------


def test_too_coarse_steps_for_the_field_warn_with_a_number() -> None:
    coarse = section("gear", *(row(f"r{n}", max_mark=Decimal(5), step=Decimal(1)) for n in "ab"))
    finding = only(found_in(card(coarse), ClassUse("Trail", ("gear",), (), 1, 12)),
                   "steps-too-coarse")  # fmt: skip
    assert finding.level is Level.WARNS
    assert "of 12 wagons would share a total" in finding.sentence
    fine = section("gear", *(row(f"r{n}", step=Decimal("0.05")) for n in "abcdefgh"))
    assert found_in(card(fine), ClassUse("Trail", ("gear",), (), 3, 12)) == {}


def test_a_class_without_wagons_or_judges_is_not_forecast() -> None:
    coarse = card(section("gear", row("r", max_mark=Decimal(1), step=Decimal(1))))
    assert found_in(coarse, ClassUse("Trail", ("gear",), (), 1, 0)) == {}
    assert found_in(coarse, ClassUse("Trail", ("gear",), (), 0, 12)) == {}


def test_more_rows_than_the_minutes_allow_on_the_longest_rig() -> None:
    everywhere = [row(f"r{n}") for n in range(10)]
    leaders = [row(f"l{n}", applies=LEADERS) for n in range(10)]
    what = card(section("gear", *everywhere, *leaders, minutes=3))
    finding = only(found_in(what), "section-too-long")
    assert finding.level is Level.WARNS
    assert "20 rows on a rig of drop tongue, six-up" in finding.sentence
    assert "takes 4 minutes, and it is given 3" in finding.sentence
    teams = [rig for rig in RIGS if rig["hitch"] == "team"]
    assert "section-too-long" not in found_in(what, rigs=teams)
    assert "section-too-long" in found_in(what, rigs=[])
    assert "section-too-long" not in found_in(what, seconds_per_row=9)


def test_rows_that_just_fit_are_left_in_peace() -> None:
    fitting = 3 * 60 // SECONDS_PER_ROW
    rows = [row(f"r{n}") for n in range(fitting)]
    assert found_in(card(section("gear", *rows, minutes=3))) == {}
    assert list(found_in(card(section("gear", *rows, row("more"), minutes=3)))) == [
        "section-too-long"
    ]


def test_two_thousand_rows_work_and_warn() -> None:
    rows = [row(f"r{n}", applies=LEADERS if n % 2 else {}) for n in range(2_000)]
    what = card(section("gear", *rows, minutes=600))
    use = ClassUse("Trail", ("gear",), (), 3, 26)
    assert "2,000 rows" in only(found_in(what, use), "card-very-long").sentence
    assert found_in(card(section("gear", *rows[:200], minutes=60))) == {}


# -- classes ---------------------------------------------------------------------------------

BEST = section("best", row("place", max_mark=Decimal(12), step=Decimal(1)), form=Form.PLACINGS)


def test_places_are_counted_by_one_class() -> None:
    what = card(section("gear"), BEST)
    trail, ranch = (ClassUse(name, ("gear", "best"), (), 1, 7) for name in ("Trail", "Ranch"))
    assert found_in(what, trail) == {}
    finding = only(found_in(what, trail, ranch), "places-counted-twice")
    assert (finding.level, finding.where) == (Level.STOPS, "sections.1")
    assert "Trail and Ranch count it" in finding.sentence


def test_places_that_do_not_reach_all_wagons() -> None:
    what = card(section("gear"), BEST)
    finding = only(found_in(what, ClassUse("Trail", ("gear", "best"), (), 1, 13)),
                   "places-too-few")  # fmt: skip
    assert finding.level is Level.STOPS
    assert "places up to 12, and Trail has 13 wagons" in finding.sentence


def test_a_class_that_counts_what_is_not_there_or_nothing() -> None:
    found = found_in(THREE, ClassUse("Trail", (*ALL, "hats")), ClassUse("Empty", ()))
    assert set(found) == {"section-unknown", "no-sections"}
    assert "“hats”" in found["section-unknown"][0].sentence
    assert found["no-sections"][0].where == "classes.1"


def test_a_section_nobody_counts_is_told_once_there_are_classes() -> None:
    finding = only(found_in(THREE, ClassUse("Trail", ("gear", "camp"))), "section-not-counted")
    assert (finding.level, finding.where) == (Level.WARNS, "sections.2")


def test_what_stops_the_card_comes_first() -> None:
    what = card(section("gear", *(row(f"r{n}") for n in range(60)), minutes=1), section("camp"))
    use = ClassUse("Trail", ("gear",), ("camp",), possible_points=Decimal(7))
    levels = [finding.level for finding in findings(what, classes=[use], rigs=RIGS)]
    assert levels == sorted(levels, key=[Level.STOPS, Level.WARNS].index)
    assert set(levels) == {*Level}
