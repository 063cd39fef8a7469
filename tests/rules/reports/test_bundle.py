"""How a bundle is packed: names, index, checksums."""

from __future__ import annotations

import csv
import io

from reports.rules.bundle import HEADINGS, Packed, checksums_of, index_of, member_names

ONE = Packed("award-3.pdf", "Award sheet: Oak", 1, 2, "0000-1111-2222", "ab" * 32)


def test_names_sort_in_the_bundles_order() -> None:
    names = member_names([ONE] * 12)
    assert list(names) == sorted(names)
    assert len(set(names)) == 12
    assert names[0] == "papers/01-award-3.pdf"


def test_the_index_reads_back_as_it_was_told() -> None:
    odd = Packed("a.pdf", 'Award sheet: "Oak", or\nAsh', 3, 1, "0000", "cd" * 32)
    rows = list(csv.reader(io.StringIO(index_of([ONE, odd]))))
    assert tuple(rows[0]) == HEADINGS
    assert rows[1] == ["papers/1-award-3.pdf", ONE.title, "1", "2", ONE.code, ONE.sha256]
    assert rows[2][1] == odd.title


def test_a_title_is_no_formula_in_a_spreadsheet() -> None:
    sly = Packed("a.pdf", "=HYPERLINK(1)", 1, 1, "0000", "ab")
    assert ",'=HYPERLINK(1)," in index_of([sly])


def test_checksums_name_each_file_once() -> None:
    lines = checksums_of([ONE, ONE]).splitlines()
    assert lines == [f"{ONE.sha256}  {name}" for name in member_names([ONE, ONE])]
