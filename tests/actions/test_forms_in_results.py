"""Sections judged by places or by pass and fail, in a class's result."""

from __future__ import annotations

from decimal import Decimal

import pytest

from entries.models import Entry
from judging.actions.ask_questions import ask_questions
from judging.actions.compute_result import compute_result
from judging.actions.release_result import sign_result
from judging.models import ClassCard, Seat
from judging.queries.panel_marks import panel_marks
from judging.queries.result_desk import class_desks
from judging.queries.results import class_inputs
from showrun.errors import Conflict, NotYet
from tests.judged_show import (
    AT,
    build_show,
    class_of,
    draw_panel,
    entry_of,
    fair,
    judge_of,
    mark,
    mark_everything,
    not_inspected,
    office_of,
    pair,
    send,
)
from tests.remembered import remembered
from tests.small_card import SCORECARD

pytestmark = pytest.mark.django_db

CARD = {
    "name": "Places, passes and harness",
    "version": 1,
    "sections": [
        {
            "code": "best_outfit", "name": "Best outfit", "points": 30, "minutes": 3,
            "form": "placings",
            "criteria": [{"code": "bo_place", "name": "Place", "max_mark": 99, "step": 1}],
        },
        {
            "code": "safe_camp", "name": "Safe camp", "points": 20, "minutes": 2,
            "form": "pass_fail", "all_or_nothing": True,
            "criteria": [
                {"code": "sc_water", "name": "Water at hand", "max_mark": 1, "step": 1},
                {"code": "sc_shovel", "name": "Shovel at hand", "max_mark": 1, "step": 1},
            ],
        },
        SCORECARD["sections"][2],
    ],
}  # fmt: skip

# By judge and wagon; J2 turns J1's order round.
PLACES = {"J1": {1: 1, 2: 2, 3: 3}, "J2": {1: 3, 2: 2, 3: 1}}


def given(judge, entry, row):
    """Places as above, every safety row passed but wagon 2's shovel by J1, else a fair mark."""
    if row.code == "bo_place":
        return PLACES[judge.code][entry.number]
    if row.code.startswith("sc_"):
        return 0 if (judge.code, entry.number, row.code) == ("J1", 2, "sc_shovel") else 1
    return fair(judge, entry, row)


@pytest.fixture
@remembered
def show():
    """Two judges, three wagons; the panel is drawn and nothing is marked."""
    show = build_show(n_judges=2, n_entries=3, kin=False, scorecard=CARD)
    draw_panel(show)
    return show


def compute(show, code="trail"):
    return compute_result(show_class=class_of(show, code), by=office_of(show), at=AT)


def sections_of(result, number):
    return result.placings.get(entry__number=number).by_section


def replace(show, code, number, event):
    """Let the judge give another mark: the card is opened, marked, and handed in again."""
    judge, entry = judge_of(show, code), entry_of(show, number)
    cards = judge.cards.filter(entry=entry)
    was = cards.values("handed_in_at", "handed_in_device", "handed_in_seq").get()
    cards.update(handed_in_at=None)
    (taken,) = send(judge.devices.get(), [event(entry)])
    assert taken.status == "applied"
    cards.update(**was)


def place(value):
    return lambda entry: mark(entry, "bo_place", value)


def test_places_and_passes_become_points(show):
    mark_everything(show, given)
    result = compute(show)
    # Worth 30 a judge: first of three 30, second 15, third nothing.
    assert [sections_of(result, n)["best_outfit"] for n in (1, 2, 3)] == ["30.00"] * 3
    # Worth 20 a judge, all or nothing: one shovel lacked.
    assert [sections_of(result, n)["safe_camp"] for n in (1, 2, 3)] == ["40.00", "20.00", "40.00"]
    replace(show, "J2", 1, place(1))
    replace(show, "J2", 3, place(7))
    points = {(p.entry, p.judge): p.points for p in class_inputs(class_of(show)).points
              if p.section == "best_outfit"}  # fmt: skip
    # J2 gave 1, 2 and 7: only the order counts.
    assert points == {
        (1, "J1"): Decimal(30), (2, "J1"): Decimal(15), (3, "J1"): Decimal(0),
        (1, "J2"): Decimal(30), (2, "J2"): Decimal(15), (3, "J2"): Decimal(0),
    }  # fmt: skip
    with pytest.raises(NotYet) as stale:
        sign_result(result=result, by=office_of(show), at=AT)
    assert stale.value.code == "marks-changed"


def test_a_scratched_wagon_drops_out_and_the_places_close_up(show):
    mark_everything(show, given)
    Entry.objects.filter(number=2).update(status="scratched")
    result = compute(show)
    assert not result.placings.filter(entry__number=2).exists()
    inputs = class_inputs(class_of(show))
    j1 = {p.entry: p.points for p in inputs.points if (p.section, p.judge) == ("best_outfit", "J1")}
    assert j1 == {1: Decimal(30), 3: Decimal(0)}


def test_equal_places_by_one_judge_make_the_class_incomplete(show):
    mark_everything(show, given)
    replace(show, "J1", 3, place(1))
    with pytest.raises(NotYet) as refused:
        compute(show)
    assert refused.value.code == "places-incomplete"
    assert refused.value.detail == (
        "Trail wagon is incomplete: J1 gave wagons 1 Patient Mule and 3 Copper Moth the same "
        "place in Best outfit: 1. Ask the judge which of them comes first."
    )
    desk = class_desks(show)[0]
    assert desk.places_against == [refused.value.detail.removeprefix("Trail wagon is incomplete: ")]
    assert not desk.can_compute
    # The class that does not count the section has its result.
    assert compute(show, "working_harness").version == 1


def test_a_wagon_without_a_place_makes_the_class_incomplete(show):
    mark_everything(show, given)
    replace(show, "J2", 2, lambda entry: not_inspected(entry, "bo_place"))
    (gap,) = class_inputs(class_of(show)).missing
    assert (gap.entry.number, gap.judge_code, gap.section) == (2, "J2", "best_outfit")
    with pytest.raises(NotYet, match="nothing could be judged"):
        compute(show)
    (sentence,) = class_desks(show)[0].places_against
    assert sentence.startswith("J2 gave no place in Best outfit to wagon 2 Nine Biscuit.")


def test_a_judge_who_does_not_see_every_wagon_makes_the_class_incomplete(show):
    """Two judges are asked for and each wagon has two, but not always the same two."""
    extra = build_show(slug="wide", n_judges=3, n_entries=3, kin=False, scorecard=CARD)
    draw_panel(extra)
    here = Seat.objects.filter(section__code="best_outfit", judge__show=extra)
    wanted = {1: ("J1", "J2"), 2: ("J1", "J2"), 3: ("J1", "J3")}
    section = here.earliest("pk").section
    here.delete()
    for number, codes in wanted.items():
        for code in codes:
            Seat.objects.create(
                judge=judge_of(extra, code), entry=entry_of(extra, number), section=section
            )
    mark_everything(extra, lambda j, e, r: (e.number or 0) if r.code == "bo_place" else 1)
    with pytest.raises(NotYet) as refused:
        compute(extra)
    assert refused.value.code == "places-incomplete"
    assert class_desks(extra)[0].places_against == [
        "J2 judges Best outfit by places and is not seated at wagon 3 Copper Moth. Places count "
        "only from a judge who sees every wagon of the class. Mend the panel.",
        "J3 judges Best outfit by places and is not seated at wagons 1 Patient Mule and "
        "2 Nine Biscuit. Places count only from a judge who sees every wagon of the class. "
        "Mend the panel.",
    ]


def test_places_are_not_adjusted_for_the_judges(show):
    mark_everything(show, given)
    result = compute(show)
    words = result.refusals["judge_adjusted"]
    assert words == (
        "Totals cannot be adjusted for the judges: Best outfit is judged by places only, and "
        "places do not show how high or low a judge scores."
    )
    assert result.placings.filter(adjusted_total=None).count() == 3
    # The other class counts no places.
    assert "judge_adjusted" not in compute(show, "working_harness").refusals
    ClassCard.objects.filter(show_class=class_of(show)).update(method="judge_adjusted")
    with pytest.raises(Conflict) as refused:
        compute(show)
    assert (refused.value.code, refused.value.detail) == ("method-refused", words)


def test_the_checks_ask_nothing_about_places_and_passes(show):
    mark_everything(show, given)
    panel = panel_marks(show)
    assert {panel.criteria[mark.criterion_id].code[:3] for mark in panel.marks} == {"hn_"}
    asked = ask_questions(show=show, by=office_of(show), at=AT)
    assert 0 < asked.n_checked <= len(panel.marks)


@pytest.mark.parametrize(
    ("row", "value", "code"),
    [
        ("bo_place", 0, "place-below-first"),
        ("bo_place", "1.5", "mark-off-step"),
        ("sc_water", "0.5", "mark-off-step"),
        ("sc_water", 2, "mark-over-maximum"),
    ],
)
def test_a_value_the_form_does_not_take_is_held(show, row, value, code):
    phone, _ = pair(judge_of(show, "J1"))
    (held,) = send(phone, [mark(entry_of(show, 1), row, value)])
    assert (held.status, held.code) == ("held", code)
