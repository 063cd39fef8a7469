"""A feedback sheet in one sentence."""

from __future__ import annotations

from decimal import Decimal

from reports.rules.in_short import in_short
from reports.rules.sheet import SectionLine


def line(name: str, own: int, n_entries: int = 5) -> SectionLine:
    middle, lowest, highest = Decimal(12), Decimal(8), Decimal(18)
    return SectionLine(name, name, Decimal(own), Decimal(20), middle, lowest, highest, n_entries)


def test_sections_are_named_by_where_they_stand() -> None:
    said = in_short([line("Harness", 13), line("Camp", 8), line("Box", 12), line("Gear", 20)])
    assert said == (
        "Above the middle of the class in Harness and Gear; level with it in Box; below it in Camp."
    )


def test_one_side_alone_is_every_section() -> None:
    assert in_short([line("Harness", 9), line("Camp", 8)]) == (
        "Below the middle of the class in every section."
    )
    assert in_short([line("Harness", 12)]) == "Level with the middle of the class in Harness."


def test_nobody_else_and_no_section_say_nothing() -> None:
    assert in_short([]) == ""
    assert in_short([line("Harness", 13, n_entries=1)]) == ""
