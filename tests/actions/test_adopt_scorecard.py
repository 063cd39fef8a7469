"""A scorecard that cannot work is refused row by row, and nothing of it is kept."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest

from judging.actions.adopt_scorecard import (
    adopt_from_library,
    adopt_scorecard,
    begin_scorecard,
)
from judging.models import Scorecard
from judging.queries.cards import card_data, card_of, card_version, read_data
from judging.queries.library import library_cards
from judging.rules.cards.card_file import as_data
from showrun.errors import InvalidInput, NotFound
from tests.judged_show import AT, build_show, office_of
from tests.small_card import SCORECARD

pytestmark = pytest.mark.django_db


def card(**row: Any) -> dict[str, Any]:
    """The small card under another name, its first row changed."""
    data = deepcopy(SCORECARD)
    data["name"] = "Another card"
    data["sections"][0]["criteria"][0].update(row)
    return data


@pytest.mark.parametrize(
    ("row", "field", "sentence"),
    [
        ({"max_mark": 0}, "max_mark", "More than zero"),
        ({"step": 3}, "step", "do not lead to 10"),
        ({"max_mark": "ten"}, "max_mark", "A number"),
        ({"max_mark": -10}, "max_mark", "More than zero"),
        ({"weight": 0}, "weight", "More than zero"),
        ({"applies": {"wheels": ["rubber"]}}, "applies", "no fact"),
        ({"applies": {"tongue": ["bent"]}}, "applies", "no value"),
        ({"applies": {"tongue": []}}, "applies", "never apply"),
        ({"parts": ["no_such_part"]}, "parts.0", "no part"),
    ],
)
def test_a_row_that_cannot_work_is_named(row: dict[str, Any], field: str, sentence: str):
    show = build_show()
    with pytest.raises(InvalidInput) as refused:
        adopt_scorecard(show=show, data=card(**row), by=office_of(show), at=AT)
    ((place, words),) = refused.value.fields.items()
    assert place == f"sections.0.criteria.0.{field}"
    assert sentence in words
    assert Scorecard.objects.count() == 1


def test_a_section_without_rows_is_named():
    show = build_show()
    data = card()
    data["sections"][1]["criteria"] = []
    with pytest.raises(InvalidInput) as refused:
        adopt_scorecard(show=show, data=data, by=office_of(show), at=AT)
    assert list(refused.value.fields) == ["sections.1.criteria"]


def test_the_first_card_is_in_use_and_later_ones_are_drafts_of_the_next_number():
    show = build_show()
    first = Scorecard.objects.get()
    assert first.in_use
    second = adopt_scorecard(show=show, data=SCORECARD, by=office_of(show), at=AT)
    assert (second.name, second.version, second.in_use) == (first.name, first.version + 1, False)
    other = adopt_scorecard(show=show, data={**card(), "version": 7}, by=office_of(show), at=AT)
    assert (other.version, other.in_use) == (7, False)
    assert card_of(show) == first


@pytest.mark.parametrize("code", sorted(library_cards()))
def test_every_card_of_the_library_is_taken_whole_and_comes_back_as_a_file(code: str):
    show = build_show()
    taken = adopt_from_library(show=show, code=code, by=office_of(show), at=AT)
    kept = card_data(card_version(show, taken.pk))
    wanted = as_data(read_data(library_cards()[code]))
    assert as_data(read_data(kept)) == wanted
    assert kept["sections"]


def test_a_library_has_only_its_own_cards():
    show = build_show()
    with pytest.raises(NotFound, match="no card"):
        adopt_from_library(show=show, code="no_such_card", by=office_of(show), at=AT)


def test_a_card_begun_is_empty_and_a_draft():
    show = build_show()
    begun = begin_scorecard(show=show, name="  Cooks'   table ", by=office_of(show), at=AT)
    assert (begun.name, begun.version, begun.in_use) == ("Cooks' table", 1, False)
    assert not begun.sections.exists()
    for name in ("", "   ", "x" * 121):
        with pytest.raises(InvalidInput) as refused:
            begin_scorecard(show=show, name=name, by=office_of(show), at=AT)
        assert list(refused.value.fields) == ["name"]


def test_a_card_that_takes_from_itself_in_a_circle_names_the_chain(monkeypatch: Any):
    show = build_show()
    circle = {
        "round": {"code": "round", "name": "R", "sections": [{"take": {"card": "about",
                                                                        "section": "x"}}]},
        "about": {"code": "about", "name": "A", "sections": [{"take": {"card": "round",
                                                                        "section": "x"}}]},
    }  # fmt: skip
    monkeypatch.setattr("judging.queries.cards.library_cards", lambda: circle)
    data = {"name": "Taken", "sections": [{"take": {"card": "round", "section": "x"}}]}
    with pytest.raises(InvalidInput) as refused:
        adopt_scorecard(show=show, data=data, by=office_of(show), at=AT)
    ((place, words),) = refused.value.fields.items()
    assert place == "sections.0.take"
    assert "round" in words
    assert "about" in words
    assert Scorecard.objects.count() == 1
