"""The size of papers: one of those the style sheets know, or a refusal that names them."""

from __future__ import annotations

import pytest
from django.core.exceptions import ImproperlyConfigured

from showrun.project.settings.papers import SIZES, paper_size
from tests.house.tree import ROOT


@pytest.mark.parametrize(("given", "size"), [("letter", "letter"), ("a4", "a4"), ("A4", "a4")])
def test_a_size_is_taken_whatever_its_capitals(given: str, size: str) -> None:
    assert paper_size(given) == size


@pytest.mark.parametrize("given", ["", "a5", "legal"])
def test_another_word_is_refused_with_those_there_are(given: str) -> None:
    with pytest.raises(ImproperlyConfigured, match=f"PAPER_SIZE is “{given}”; it can be letter or"):
        paper_size(given)


def test_the_style_sheets_know_each_size_that_is_not_the_first() -> None:
    style = (ROOT / "reports/static/reports/paper.css").read_text(encoding="utf-8")
    assert all(f".{size} {{" in style for size in SIZES[1:])
