"""A class's result as a whole: exact, the same however it is told, the purse to the cent."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from hashlib import sha256
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.rules.results.class_result import ClassCase, class_result
from judging.rules.results.methods import METHODS
from judging.rules.results.result_hash import HashedLine, result_hash
from judging.rules.results.section_points import SectionPoints
from judging.rules.results.sureness import how_sure

SECTIONS = {"trail": Decimal(40), "food": Decimal(20)}


def drawn_case(
    seed: int, n: int = 5, judges: int = 4, method: str = "plain", **more: object
) -> ClassCase:
    """A class seen by all its judges, with whole marks so that ties happen."""
    rng = np.random.default_rng(seed)
    points = [
        SectionPoints(entry, f"J{judge}", section, Decimal(int(rng.integers(0, int(worth) + 1))))
        for entry in range(1, n + 1)
        for judge in range(judges)
        for section, worth in SECTIONS.items()
    ]
    case = ClassCase(
        method, points, list(range(1, n + 1)), SECTIONS, dict.fromkeys(SECTIONS, judges), ("food",)
    )
    return replace(case, **more)  # type: ignore[arg-type]


def told(case: ClassCase) -> dict[int, object]:
    return {
        line.entry: (line.place, line.total, line.decided_by, line.by_section, line.by_method)
        for line in class_result(case).lines
    }


@given(seed=st.integers(0, 10_000), order=st.randoms(use_true_random=False))
@settings(max_examples=20, deadline=None)
def test_the_order_of_marks_and_entries_changes_nothing(seed: int, order: Random) -> None:
    case = drawn_case(seed, purse_cents=10001, purse_weights=[Decimal(2), Decimal(1)])
    points, entries = list(case.points), list(case.entries)
    order.shuffle(points)
    order.shuffle(entries)
    assert class_result(replace(case, points=points, entries=entries)) == class_result(case)


@given(seed=st.integers(0, 10_000), order=st.randoms(use_true_random=False))
@settings(max_examples=20, deadline=None)
def test_other_names_for_judges_and_entries_change_no_place(seed: int, order: Random) -> None:
    """Entries and judges are numbered anew; each keeps its total, its place and what decided it."""
    case = drawn_case(seed)
    numbers, judges = list(case.entries), [f"J{n}" for n in range(4)]
    order.shuffle(numbers)
    order.shuffle(judges)
    entry_now = dict(zip(case.entries, numbers, strict=True))
    judge_now = {f"J{n}": name for n, name in enumerate(judges)}
    renamed = replace(
        case,
        points=[
            replace(card, entry=entry_now[card.entry], judge=judge_now[str(card.judge)])
            for card in case.points
        ],
    )
    before, after = told(case), told(renamed)
    assert {entry_now[entry]: line for entry, line in before.items()} == after


@given(
    seed=st.integers(0, 10_000),
    cents=st.integers(0, 10_000_000),
    weights=st.lists(st.integers(0, 100), min_size=1, max_size=5).filter(any),
)
@settings(max_examples=60, deadline=None)
def test_the_purse_is_paid_to_the_cent_whatever_the_ties(
    seed: int, cents: int, weights: list[int]
) -> None:
    case = drawn_case(
        seed % 50, judges=1, purse_cents=cents, purse_weights=[Decimal(w) for w in weights]
    )
    level = replace(case, points=[replace(card, points=Decimal(seed % 3)) for card in case.points])
    for one in (case, level):
        lines = class_result(one).lines
        assert sum(line.purse_cents for line in lines) == cents
        for place in {line.place for line in lines}:
            shares = [line.purse_cents for line in lines if line.place == place]
            assert max(shares) - min(shares) <= 1


def test_every_method_that_can_be_used_stands_beside_the_declared_one() -> None:
    case = drawn_case(4, judges=3)
    found = class_result(case)
    assert set(found.lines[0].by_method) == set(METHODS) - {"trimmed"}
    assert set(found.refusals) == {"trimmed"}
    for line in found.lines:
        assert (line.by_method["plain"].total, line.by_method["plain"].place) == (
            line.total,
            line.place,
        )


@pytest.mark.parametrize("method", METHODS)
def test_the_declared_method_decides(method: str) -> None:
    found = class_result(drawn_case(7, method=method))
    for line in found.lines:
        assert (line.total, line.place) == (
            line.by_method[method].total,
            line.by_method[method].place,
        )
    assert found.sureness is not None
    assert found.sureness.basis == ("crossed" if method == "crossed" else "sections")
    assert all(line.ranks and 1 <= line.ranks[0] <= line.ranks[1] <= 5 for line in found.lines)


@pytest.mark.parametrize("method", ["judge_adjusted", "crossed"])
def test_places_are_adjusted_by_no_method(method: str) -> None:
    case = drawn_case(4, by_places=["Best outfit"])
    refused = class_result(replace(case, method=method))
    assert refused.lines == ()
    assert refused.refused.startswith(
        "Totals cannot be adjusted for the judges: Best outfit is judged by places only"
    )
    plain = class_result(case)
    assert set(plain.refusals) == {"judge_adjusted", "crossed"}
    assert plain.sureness is not None
    assert "Best outfit" in plain.sureness.refused
    assert {line.ranks for line in plain.lines} == {None}


def test_what_cannot_be_told_is_a_sentence() -> None:
    one_judge = how_sure(
        [SectionPoints(entry, "A", "trail", Decimal(entry)) for entry in (1, 2, 3)],
        {3: 1, 2: 2, 1: 3}, {"trail": 1}, {"trail": Decimal(9)},
    )  # fmt: skip
    assert one_judge.basis == ""
    assert one_judge.refused == "How sure the places are cannot be told from one judge's marks."
    apart = how_sure(
        [
            SectionPoints(entry, judge, "trail", Decimal(entry))
            for entry, pair in ((1, "AB"), (2, "AB"), (3, "CD"), (4, "CD"))
            for judge in pair
        ],
        {4: 1, 3: 2, 2: 3, 1: 4}, {"trail": 2}, {"trail": Decimal(9)},
    )  # fmt: skip
    assert apart.refused.endswith("no judge links these groups of entries: 1, 2; 3, 4.")
    alone = how_sure([], {1: 1}, {"trail": 1}, {"trail": Decimal(9)})
    assert alone.refused == "One entry alone: there is no order to be sure of."


def test_two_who_share_a_place_are_not_put_in_an_order() -> None:
    points = [SectionPoints(e, j, "trail", Decimal(p)) for e, row in
              {1: (9, 5, 7), 2: (5, 9, 7), 3: (1, 2, 1)}.items()
              for j, p in zip("ABC", row, strict=True)]  # fmt: skip
    found = how_sure(points, {1: 1, 2: 1, 3: 3}, {"trail": 3}, {"trail": Decimal(9)})
    first, second = found.neighbours
    assert (first.sentence, first.told_apart) == ("These two share place 1.", False)
    assert (second.ahead, second.behind) == (2, 3)
    assert second.chance > 0.9


LINE = HashedLine(4, 1, Decimal("61.00"), {"trail": Decimal("40"), "food": Decimal("21")}, 6000)
REST = {"inputs": "ab", "method": "plain", "rule_version": "3"}
GAP = {"entry": 4, "judge": "J3", "section": "food", "rows": 2, "handed_in": False}


@pytest.mark.parametrize(
    "change",
    [
        {"lines": [LINE._replace(place=2)]},
        {"lines": [LINE._replace(entry=5)]},
        {"lines": [LINE._replace(total=Decimal("61.01"))]},
        {"lines": [LINE._replace(by_section={"trail": Decimal(41), "food": Decimal(20)})]},
        {"lines": [LINE._replace(purse_cents=6001)]},
        {"lines": []},
        {"inputs": "ac"},
        {"method": "mean"},
        {"rule_version": "4"},
        {"gaps": [GAP]},
    ],
)
def test_any_change_gives_a_result_another_hash(change: dict[str, object]) -> None:
    before = {"lines": [LINE], **REST}
    assert result_hash(**before) != result_hash(**{**before, **change})  # type: ignore[arg-type]


def test_the_hash_does_not_hang_on_an_order() -> None:
    other, gap = LINE._replace(entry=5, place=2), {**GAP, "entry": 5}
    assert result_hash(lines=[LINE, other], gaps=[GAP, gap], **REST) == result_hash(
        lines=[other, LINE], gaps=[gap, dict(reversed(GAP.items()))], **REST
    )


def test_the_hash_is_of_one_text_so_that_a_result_released_long_ago_keeps_its_own() -> None:
    """FIPS 180-4 over JSON with its keys in order, written out here by hand."""
    text = (
        '{"gaps":["{\\"entry\\": 4, \\"handed_in\\": false, \\"judge\\": \\"J3\\", '
        '\\"rows\\": 2, \\"section\\": \\"food\\"}"],"inputs":"ab","method":"plain",'
        '"placings":[[4,1,"61.00",[["food","21.00"],["trail","40.00"]],6000]],"rule_version":"3"}'
    )
    assert result_hash(lines=[LINE], gaps=[GAP], **REST) == sha256(text.encode()).hexdigest()


def test_several_sections_by_places_are_named_together() -> None:
    case = drawn_case(4, by_places=["Best outfit", "Best camp"])
    refused = class_result(replace(case, method="judge_adjusted")).refused
    assert "Best outfit, Best camp are judged by places only" in refused
