"""A scorecard that cannot work is refused row by row, and nothing of it is kept."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest

from judging.actions.adopt_scorecard import adopt_scorecard, declare_class
from judging.models import Scorecard
from showrun.errors import Conflict, InvalidInput
from tests.judged_show import AT, build_show, class_of, mark_everything, office_of
from tests.small_card import SCORECARD

pytestmark = pytest.mark.django_db


def card(**row: Any) -> dict[str, Any]:
    """The small card under another name, its first row changed."""
    data = deepcopy(SCORECARD)
    data["name"] = "Another card"
    data["sections"][0]["criteria"][0].update(row)
    return data


@pytest.mark.parametrize(
    ("row", "sentence"),
    [
        ({"max_mark": 0}, "whole number of steps"),
        ({"step": 3}, "whole number of steps"),
        ({"max_mark": "ten"}, "."),
        ({"weight": 0}, "weighs nothing"),
        ({"applies": {"wheels": ["rubber"]}}, "no fact"),
        ({"applies": {"tongue": ["bent"]}}, "no value"),
        ({"applies": {"tongue": []}}, "never apply"),
        ({"code": "rg_brakes"}, "Two criteria"),
    ],
)
def test_a_row_that_cannot_work_is_named(row: dict[str, Any], sentence: str):
    show = build_show()
    with pytest.raises(InvalidInput) as refused:
        adopt_scorecard(show=show, data=card(**row), by=office_of(show), at=AT)
    (words,) = refused.value.fields.values()
    assert sentence in words
    assert Scorecard.objects.count() == 1


def test_a_section_without_rows_is_named():
    show = build_show()
    data = card()
    data["sections"][1]["criteria"] = []
    with pytest.raises(InvalidInput) as refused:
        adopt_scorecard(show=show, data=data, by=office_of(show), at=AT)
    assert list(refused.value.fields) == ["camp_kit"]


def test_how_a_class_is_judged_is_not_changed_once_a_mark_is_given():
    show = build_show()
    scorecard = Scorecard.objects.get()
    change: dict[str, Any] = {
        "show_class": class_of(show),
        "sections": ["harness"],
        "method": "plain",
        "judges_per_section": 2,
        "by": office_of(show),
        "at": AT,
    }
    assert declare_class(scorecard=scorecard, **change).sections.count() == 1
    with pytest.raises(InvalidInput, match="no section"):
        declare_class(scorecard=scorecard, **{**change, "sections": ["wheels"]})
    with pytest.raises(InvalidInput, match="no method"):
        declare_class(scorecard=scorecard, **{**change, "method": "best of three"})
    mark_everything(show)
    scorecard.refresh_from_db()
    with pytest.raises(Conflict, match="begun"):
        declare_class(scorecard=scorecard, **change)


def test_a_section_two_classes_count_is_seen_by_one_number_of_judges():
    show = build_show()
    scorecard = Scorecard.objects.get()
    change: dict[str, Any] = {
        "show_class": class_of(show, "working_harness"),
        "scorecard": scorecard,
        "method": "plain",
        "by": office_of(show),
        "at": AT,
    }
    with pytest.raises(InvalidInput, match="Trail wagon counts one of these sections with 2"):
        declare_class(sections=["harness"], judges_per_section=3, **change)
    assert declare_class(sections=["harness"], judges_per_section=2, **change)
