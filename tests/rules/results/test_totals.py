"""Totals, plain and adjusted for the judges."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.rules.results.effects import fit_additive
from judging.rules.results.methods import METHODS
from judging.rules.results.placing import place
from judging.rules.results.totals import Missing, SectionPoints, judge_adjusted, plain

Wrote = dict[str, dict[str, str]]


def cards(section: str, wrote: Wrote) -> list[SectionPoints[str]]:
    return [
        SectionPoints(entry, judge, section, Decimal(points))
        for entry, row in wrote.items()
        for judge, points in row.items()
    ]


TRAIL: Wrote = {
    "Ace": {"J1": "30.25", "J2": "32.10"},
    "Bell": {"J2": "31.00", "J3": "35.35"},
    "Cook": {"J3": "33.00", "J1": "28.00"},
    "Dray": {"J1": "25.50", "J2": "27.00"},
}
FOOD: Wrote = {entry: {"K": str(10 + index)} for index, entry in enumerate(TRAIL)}
ENTRIES, SECTIONS, NEED = list(TRAIL), ["trail", "food"], {"trail": 2, "food": 1}
POINTS = cards("trail", TRAIL) + cards("food", FOOD)


def test_plain_adds_up_exactly() -> None:
    result = plain(POINTS, ENTRIES, SECTIONS, NEED)
    assert result.total["Ace"] == Decimal("72.35")
    assert result.by_section["Bell"] == {"trail": Decimal("66.35"), "food": Decimal(11)}
    assert (result.missing, result.refused, result.judge_effects) == ((), None, {})
    assert result.standard_error == dict.fromkeys(ENTRIES)


def test_adjusted_is_the_fit_times_the_judges_rounded_by_section() -> None:
    result = judge_adjusted(POINTS, ENTRIES, SECTIONS, NEED)
    trail = [card for card in POINTS if card.section == "trail"]
    fit = fit_additive(
        [c.entry for c in trail], [c.judge for c in trail], [float(c.points) for c in trail]
    )
    for index, entry in enumerate(fit.entries):
        figure = result.by_section[str(entry)]["trail"]
        assert figure == figure.quantize(Decimal("0.01"))
        assert abs(float(figure) - 2 * fit.adjusted_mean[index]) <= 0.005 + 1e-9
        assert result.total[str(entry)] == figure + Decimal(FOOD[str(entry)]["K"])
    assert result.judge_effects["trail"] == dict(
        zip(fit.judges, fit.judge_effect.tolist(), strict=True)
    )
    assert result.judge_effects["food"] == {"K": 0.0}
    # One judge for the food leaves nothing to tell its noise from.
    assert result.standard_error == dict.fromkeys(ENTRIES)


def test_standard_error_adds_the_sections_as_independent() -> None:
    both = cards("trail", TRAIL) + cards("camp", TRAIL)
    one = judge_adjusted(cards("trail", TRAIL), ENTRIES, ["trail"], {"trail": 2})
    two = judge_adjusted(both, ENTRIES, ["trail", "camp"], {"trail": 2, "camp": 2})
    rows = [(card.entry, card.judge, float(card.points)) for card in cards("trail", TRAIL)]
    fit = fit_additive(*zip(*rows, strict=True))
    of_mean = dict(zip(fit.entries, fit.standard_error.tolist(), strict=True))
    for entry in ENTRIES:
        single, double = one.standard_error[entry], two.standard_error[entry]
        assert single is not None and double is not None
        assert single == pytest.approx(2 * of_mean[entry])
        assert double == pytest.approx(single * 2**0.5)


def test_a_true_half_is_rounded_up() -> None:
    """Bell comes to 19.995 and Dray to 20.005 in exact arithmetic.

    In this ring of four judges the one excess of 0.01 is spread over the ring in quarters.
    """
    wrote: Wrote = {
        "Ace": {"J1": "10.00", "J2": "10.01"},
        "Bell": {"J2": "10.00", "J3": "10.00"},
        "Cook": {"J3": "10.00", "J4": "10.00"},
        "Dray": {"J4": "10.00", "J1": "10.00"},
    }
    result = judge_adjusted(cards("trail", wrote), list(wrote), ["trail"], {"trail": 2})
    effects = {judge: round(value, 9) for judge, value in result.judge_effects["trail"].items()}
    assert effects == {"J1": -0.00375, "J2": 0.00375, "J3": 0.00125, "J4": -0.00125}
    assert {entry: str(total) for entry, total in result.total.items()} == {
        "Ace": "20.01",
        "Bell": "20.00",
        "Cook": "20.00",
        "Dray": "20.01",
    }


hundredths = st.integers(0, 5000).map(lambda points: Decimal(points) / 100)


@given(st.data())
@settings(deadline=None, max_examples=60)
def test_in_a_complete_panel_the_adjustment_changes_nothing(data: st.DataObject) -> None:
    n_entries, sections = data.draw(st.integers(1, 6)), ["a", "b"]
    need = {section: data.draw(st.integers(1, 4)) for section in sections}
    points = [
        SectionPoints(entry, judge, section, data.draw(hundredths))
        for section in sections
        for entry in range(n_entries)
        for judge in range(need[section])
    ]
    before = plain(points, range(n_entries), sections, need)
    after = judge_adjusted(data.draw(st.permutations(points)), range(n_entries), sections, need)
    assert after.total == before.total
    assert after.by_section == before.by_section


@given(st.sampled_from(["J1", "J2", "J3"]), hundredths)
@settings(deadline=None)
def test_a_strict_judge_changes_no_adjusted_comparison(judge: str, extra: Decimal) -> None:
    """Up to the rounding of the two figures compared."""
    harsher = [
        replace(card, points=card.points + extra) if card.judge == judge else card
        for card in POINTS
    ]
    before = judge_adjusted(POINTS, ENTRIES, SECTIONS, NEED).complete
    after = judge_adjusted(harsher, ENTRIES, SECTIONS, NEED).complete
    change = [after[entry] - before[entry] for entry in ENTRIES]
    assert max(change) - min(change) <= Decimal("0.02")


# Of the others some are refused with these judges.
ADDING = ("plain", "mean", "judge_adjusted")


@pytest.mark.parametrize("method", ADDING)
def test_a_missing_card_is_incomplete_and_never_zero(method: str) -> None:
    points = [c for c in POINTS if (c.entry, c.judge) not in {("Dray", "J2"), ("Bell", "K")}]
    result = METHODS[method](points, ENTRIES, SECTIONS, NEED)
    assert result.missing == (Missing("Bell", "food", 0, 1), Missing("Dray", "trail", 1, 2))
    assert result.total["Bell"] is None
    assert result.total["Dray"] is None
    assert set(result.complete) == {"Ace", "Cook"}
    assert set(result.by_section["Bell"]) == {"trail"}
    assert set(result.by_section["Dray"]) == {"food"}
    assert result.standard_error["Dray"] is None
    placings = place(result.complete, result.by_section, ("trail",))
    assert {p.entry for p in placings} == {"Ace", "Cook"}


@pytest.mark.parametrize("method", ADDING)
def test_before_the_first_card_all_is_incomplete(method: str) -> None:
    result = METHODS[method]([], ENTRIES, SECTIONS, NEED)
    assert result.total == dict.fromkeys(ENTRIES)
    assert len(result.missing) == len(ENTRIES) * len(SECTIONS)
    assert result.refused is None


def test_a_card_of_an_incomplete_entry_still_tells_about_its_judge() -> None:
    """Dray's lone card by J1 changes nothing; its second card, by J2, tells J1 and J2 apart."""
    without = [c for c in POINTS if c.entry != "Dray"]
    lone = [c for c in POINTS if (c.entry, c.judge) != ("Dray", "J2")]
    entries = ENTRIES[:3]
    need = {"trail": 2, "food": 1}
    first = judge_adjusted(without, entries, SECTIONS, need)
    second = judge_adjusted(lone, ENTRIES, SECTIONS, need)
    assert second.complete == first.complete
    three = [*POINTS, SectionPoints("Eve", "J1", "trail", Decimal("20.00"))]
    three += [SectionPoints("Eve", "J2", "trail", Decimal("29.00"))]
    third = judge_adjusted(three, [*ENTRIES, "Eve"], SECTIONS, need)
    assert third.total["Eve"] is None
    assert third.complete != judge_adjusted(POINTS, ENTRIES, SECTIONS, need).complete


UNLINKED: Wrote = {
    "Ace": {"J1": "30", "J2": "32"},
    "Bell": {"J2": "31", "J1": "35"},
    "Cook": {"J3": "33", "J4": "28"},
    "Dray": {"J4": "25", "J3": "27"},
}


def test_unlinked_groups_are_refused_by_name() -> None:
    points = cards("trail", UNLINKED) + cards("food", FOOD)
    result = judge_adjusted(points, ENTRIES, SECTIONS, NEED)
    assert result.refused == (
        "Totals cannot be adjusted for the judges: in section trail no judge links these groups "
        "of entries: Ace, Bell; Cook, Dray."
    )
    assert result.total == dict.fromkeys(ENTRIES)
    assert not any(result.by_section.values())
    assert set(result.judge_effects) == {"food"}
    assert result.standard_error == dict.fromkeys(ENTRIES)
    assert plain(points, ENTRIES, SECTIONS, NEED).refused is None


def test_only_entries_whose_points_are_in_need_a_link() -> None:
    lone = [
        *cards("trail", {entry: UNLINKED[entry] for entry in ("Ace", "Bell")}),
        SectionPoints("Cook", "J3", "trail", Decimal(33)),
    ]
    result = judge_adjusted(lone, ["Ace", "Bell", "Cook"], ["trail"], {"trail": 2})
    assert result.refused is None
    assert set(result.complete) == {"Ace", "Bell"}


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (
            {"judges_required": {"trail": 1, "food": 1}},
            "Entry Ace has points of 2 judges in section trail, but the class asks for 1.",
        ),
        ({"judges_required": {"trail": 2}}, "Section food needs a declared number of judges"),
        ({"entries": ENTRIES[1:]}, "Entry Ace has points but is not in this class"),
        ({"sections": ["trail"]}, "Section food has points but is not on the scorecard"),
        ({"sections": []}, "at least one section"),
        ({"sections": ["trail", "food", "food"]}, "each only once"),
        ({"points": [*POINTS, POINTS[0]]}, "Judge J1 has points twice for entry Ace"),
        ({"points": [replace(POINTS[0], points=Decimal("1.005"))]}, "must be rounded to 0.01"),
        ({"points": [replace(POINTS[0], points=Decimal("NaN"))]}, "must be rounded to 0.01"),
        ({"points": [replace(POINTS[0], points=Decimal("Infinity"))]}, "must be rounded to 0.01"),
        ({"points": [replace(POINTS[0], points=Decimal("-Infinity"))]}, "must be rounded to 0.01"),
    ],
)
def test_what_cannot_be_added_up_is_refused(
    method: str, change: dict[str, Any], sentence: str
) -> None:
    usable: dict[str, Any] = {
        "points": POINTS,
        "entries": ENTRIES,
        "sections": SECTIONS,
        "judges_required": NEED,
    }
    with pytest.raises(ValueError, match=sentence):
        METHODS[method](**(usable | change))
