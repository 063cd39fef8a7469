"""How a class is judged is declared before the first mark, and only in ways that can work."""

from __future__ import annotations

from typing import Any

import pytest

from judging.actions.adopt_scorecard import adopt_scorecard
from judging.actions.compute_result import compute_result
from judging.actions.declare_class import declare_class
from judging.actions.practice import set_up_practice
from judging.models import ClassCard, Scorecard, Seat, Section
from judging.rules.cards.policies import GearCredit, Marking, Policies
from judging.rules.cards.scorecard import NotInspected
from showrun.errors import Conflict, InvalidInput, NotYet
from showrun.shows.models import AuditEntry, Show
from tests.judged_show import (
    AT,
    RIGS,
    build_show,
    class_of,
    draw_panel,
    judge_of,
    mark,
    mark_everything,
    office_of,
    open_window,
    pair,
    send,
)
from tests.small_card import SCORECARD

pytestmark = pytest.mark.django_db


def declare(show: Show, code: str = "trail", **change: Any) -> ClassCard:
    given: dict[str, Any] = {
        "show_class": class_of(show, code),
        "scorecard": Scorecard.objects.get(show=show, in_use=True),
        "sections": ["harness"],
        "method": "plain",
        "judges_per_section": 2,
        "by": office_of(show),
        "at": AT,
    }
    return declare_class(**{**given, **change})


def test_a_class_is_declared_with_its_policies_and_the_record_has_both_sides():
    show = build_show()
    policies = Policies(
        gear_credit=GearCredit.ORIGINAL_FIRST,
        marking=Marking.DEDUCT_FROM_FULL,
        period_from=1866,
        period_to=1895,
        not_inspected=NotInspected.ZERO,
        note="Rubber under the fly is fine.",
    )
    card = declare(show, policies=policies, tie_ladder=["harness"])
    assert ClassCard.objects.get(pk=card.pk).policies == policies
    line = AuditEntry.objects.filter(verb="declared").latest("pk")
    assert line.before["sections"] == ["camp_kit", "harness", "running_gear"]
    assert line.after["sections"] == ["harness"]
    assert line.after["period_to"] == 1895


def test_it_is_not_changed_once_a_mark_is_given():
    show = build_show()
    assert declare(show).sections.count() == 1
    mark_everything(show)
    with pytest.raises(Conflict, match="begun"):
        declare(show)


def declare_all(show: Show, judges: int) -> None:
    """Declare the one class anew that counts all sections, after the others count none."""
    ClassCard.objects.exclude(show_class=class_of(show)).delete()
    sections = list(Section.objects.filter(scorecard__show=show).values_list("code", flat=True))
    declare(show, sections=sections, judges_per_section=judges)


def test_with_fewer_judges_declared_the_panel_is_mended_and_the_class_computed():
    show = build_show(judges_per_section=3, kin=False)
    draw_panel(show)
    before = Seat.objects.count()
    declare_all(show, 2)
    assert Seat.objects.count() * 3 == before * 2
    assert AuditEntry.objects.filter(show=show, verb="mended").exists()
    mark_everything(show)
    assert compute_result(show_class=class_of(show), by=office_of(show), at=AT).version == 1


def test_fewer_judges_are_not_declared_once_more_are_announced():
    show = build_show(judges_per_section=3, kin=False)
    draw_panel(show)
    open_window(show)
    with pytest.raises(Conflict, match="Withdraw the window first"):
        declare_all(show, 2)


def test_no_window_is_published_while_a_wagon_lacks_a_judge():
    show = build_show(kin=False)
    draw_panel(show)
    open_window(show, publish=False)
    declare_all(show, 3)
    with pytest.raises(NotYet, match="2 seated, 3 needed"):
        open_window(show)


def test_a_practice_wagon_keeps_the_classes_open():
    show = build_show()
    wagon = set_up_practice(
        show=show, wagon_name="Old Faithless", rig=RIGS[0], by=office_of(show), at=AT
    )
    phone, _ = pair(judge_of(show))
    (outcome,) = send(phone, [mark(wagon, "hn_leather", 7)])
    assert outcome.status == "applied"
    assert Scorecard.objects.get(show=show, in_use=True).frozen_at
    assert declare(show).sections.count() == 1


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"sections": ["wheels"]}, "no section “wheels”"),
        ({"sections": []}, "counts no section"),
        ({"tie_ladder": ["wheels"]}, "no section “wheels”"),
        ({"tie_ladder": ["camp_kit"]}, "does not count"),
        ({"tie_ladder": ["harness", "harness"]}, "twice"),
        ({"method": "best of three"}, "no method"),
        ({"judges_per_section": 0}, "From 1 to"),
        ({"policies": Policies(period_from=1900, period_to=1880)}, "ends in 1880"),
        ({"policies": Policies(period_from=18)}, "year 18"),
        ({"policies": Policies(note="x" * 601)}, "longer"),
    ],
)
def test_what_cannot_work_is_refused(change: dict[str, Any], sentence: str):
    show = build_show()
    before = ClassCard.objects.get(show_class=class_of(show)).tie_ladder
    with pytest.raises(InvalidInput, match=sentence):
        declare(show, **change)
    assert ClassCard.objects.get(show_class=class_of(show)).tie_ladder == before


def test_a_draft_and_another_shows_card_are_no_cards_to_count():
    show, other = build_show(), build_show(slug="other-ground")
    draft = adopt_scorecard(show=show, data=SCORECARD, by=office_of(show), at=AT)
    for card in (draft, Scorecard.objects.get(show=other)):
        with pytest.raises(InvalidInput, match="its own show has in use"):
            declare(show, scorecard=card)


def test_a_section_two_classes_count_is_seen_by_one_number_of_judges():
    show = build_show()
    with pytest.raises(InvalidInput, match="Trail wagon counts one of these sections with 2"):
        declare(show, "working_harness", judges_per_section=3)
    assert declare(show, "working_harness", judges_per_section=2)


def test_a_section_of_places_is_counted_by_one_class():
    show = build_show()
    Section.objects.filter(code="harness").update(form="placings")
    with pytest.raises(InvalidInput, match="one class alone may count them"):
        declare(show, "working_harness")


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"method": "trimmed"}, "method"),
        ({"method": "crossed", "judges_per_section": 1}, "method"),
        ({"purse_cents": -1}, "purse_cents"),
        ({"purse_cents": 10**13, "purse_weights": ["1"]}, "purse_cents"),
        ({"purse_cents": 100}, "purse_weights"),
        ({"purse_cents": 100, "purse_weights": ["0"]}, "purse_weights"),
        ({"purse_weights": ["NaN"]}, "purse_weights"),
        ({"query_minutes": -1}, "query_minutes"),
        ({"query_minutes": 10081}, "query_minutes"),
    ],
)
def test_what_could_give_no_result_or_no_purse_is_refused(change: dict[str, Any], field: str):
    show = build_show()
    with pytest.raises(InvalidInput) as refused:
        declare(show, **change)
    assert list(refused.value.fields) == [field]
    assert ClassCard.objects.get(show_class=class_of(show)).purse_cents == 0


def test_places_of_judges_need_two_of_them():
    show = build_show(judges_per_section=1)
    with pytest.raises(InvalidInput, match="Places need 2 judges"):
        declare(show, method="placings", judges_per_section=1)


@pytest.mark.parametrize("method", ["plain", "mean", "judge_adjusted", "crossed", "placings"])
def test_each_method_is_declared_with_its_purse_and_the_record_says_so(method: str):
    show = build_show()
    card = declare(show, method=method, purse_cents=9999, purse_weights=["2", "1"], query_minutes=0)
    assert (card.method, card.purse_cents, card.purse_weights) == (method, 9999, ["2", "1"])
    line = AuditEntry.objects.filter(verb="declared").latest("pk")
    assert (line.before["purse_cents"], line.after["purse_cents"]) == (0, 9999)
    assert (line.after["purse_weights"], line.after["query_minutes"]) == (["2", "1"], 0)
