"""Tables of dishes against printed designs: textbook parameters, an efficiency, a best table."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from judging.rules.panels.tables import bound, concurrence, connected, design, efficiency

ITEMS: dict[str, dict[str, Any]] = {
    item["id"]: item
    for item in json.loads(
        (Path(__file__).parents[1] / "reference" / "planning.json").read_text(encoding="utf-8")
    )
}


def ids(prefix: str) -> list[str]:
    return [name for name in ITEMS if name.startswith(prefix)]


@pytest.mark.parametrize("name", ids("bibd-"))
def test_every_textbook_design_is_built_with_its_printed_numbers(name: str):
    item = ITEMS[name]
    v, k = item["data"]["v"], item["data"]["k"]
    said = item["expected"]
    tables = design(v, said["b"], k)
    assert [len(set(table)) for table in tables] == [k] * said["b"]
    assert set(Counter(dish for table in tables for dish in table).values()) == {said["r"]}
    assert set(concurrence(tables).values()) == {said["lam"]}
    assert efficiency(tables) == pytest.approx(said["E"], abs=item["tolerance"])
    assert bound(v, said["b"], k).least == pytest.approx(said["E"], abs=item["tolerance"])


def test_a_printed_design_has_its_printed_efficiency_and_concurrence():
    item = ITEMS["eff-bib-5-4"]
    blocks = item["data"]["blocks"]
    assert efficiency(blocks) == pytest.approx(item["expected"]["E"], abs=item["tolerance"])
    assert set(concurrence(blocks).values()) == {item["expected"]["lam"]}


def test_the_printed_formula_is_no_efficiency_of_a_table():
    """(v-1)(r-1) / ((v-1)(r-1) + r(s-1)) is an upper value; the design printed with it has less."""
    item = ITEMS["eff-alpha-formula-15"]
    v, r, s = (item["data"][name] for name in "vrs")
    formula = (v - 1) * (r - 1) / ((v - 1) * (r - 1) + r * (s - 1))
    assert formula == pytest.approx(item["expected"], abs=item["tolerance"])
    ours = design(v, r * s, v // s)
    limits = bound(v, r * s, v // s)
    assert efficiency(ours) <= limits.least <= formula + item["tolerance"]
    # The factors of the design printed beside the formula give 0.5461.
    assert efficiency(ours) >= 0.5461


def test_twenty_dishes_and_twelve_judges_get_the_best_table_known():
    item = ITEMS["food-best-20-12-5"]
    v, b, k, r = (item["data"][name] for name in "vbkr")
    tables = design(v, b, k)
    met = concurrence(tables)
    assert set(Counter(dish for table in tables for dish in table).values()) == {r}
    assert sorted(set(met.values())) == item["expected"]["lam"]
    assert sum(met.values()) == item["expected"]["pairs_together"]
    assert connected(tables) is item["expected"]["connected"]
    assert efficiency(tables) >= item["expected"]["A_at_least"] - item["tolerance"]
    limits = bound(v, b, k)
    # The bounds stand in the item's source.
    assert (round(limits.second_moment, 4), round(limits.average, 4)) == (0.8275, 0.8421)
