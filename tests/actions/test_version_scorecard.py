"""A version is put in use: whatever points at the card goes over, and no mark is lost."""

from __future__ import annotations

import re
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from judging.actions.adopt_scorecard import begin_scorecard
from judging.actions.compute_result import compute_result
from judging.actions.edit_row import add_row
from judging.actions.practice import set_up_practice
from judging.actions.version_scorecard import new_version, use_scorecard
from judging.models import (
    Card,
    CardMark,
    ClassCard,
    Criterion,
    Judge,
    Placing,
    Scorecard,
    Seat,
    Section,
)
from judging.queries.card_use import what_use_would_touch
from judging.queries.cards import card_data, card_of, card_version
from showrun.errors import Conflict, InvalidInput
from showrun.shows.models import AuditEntry, Show
from tests.card_versions import change, marks_of, seats, use, used
from tests.judged_show import (
    AT,
    RIGS,
    build_show,
    class_of,
    draw_panel,
    entry_of,
    hand_in,
    judge_of,
    mark,
    mark_everything,
    office_of,
    pair,
    release_results,
    rows_of,
    send,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def show() -> Show:
    return build_show()


@pytest.fixture
def who(show: Show) -> dict[str, Any]:
    return {"by": office_of(show), "at": AT}


@pytest.fixture
def draft(show: Show, who: dict[str, Any]) -> Scorecard:
    draw_panel(show)
    return new_version(card=used(show), **who)


# --- Before judging --------------------------------------------------------------------------


def test_a_new_version_says_the_same_under_the_next_number(show: Show, draft: Scorecard):
    old = used(show)
    assert (draft.version, draft.in_use, draft.copied_from) == (old.version + 1, False, old)
    one, other = card_data(card_version(show, old.pk)), card_data(card_version(show, draft.pk))
    assert one.pop("version") + 1 == other.pop("version")
    assert one == other
    assert not Criterion.objects.filter(section__scorecard=old, pk__in=row_ids(draft)).exists()


def row_ids(card: Scorecard) -> list[int]:
    rows = Criterion.objects.filter(section__scorecard=card)
    return list(rows.values_list("pk", flat=True))


def test_seats_judges_and_classes_go_over(show: Show, draft: Scorecard, who: dict[str, Any]):
    old, before = used(show), seats(show)
    plan = what_use_would_touch(card_version(show, draft.pk))
    (sentence,) = plan.sentences
    assert sentence.startswith("Seats, judges and classes go over as they are")
    use(draft, who, reason="")
    assert card_of(show) == draft
    old.refresh_from_db()
    assert (old.in_use, old.frozen_at) == (False, AT)
    draft.refresh_from_db()
    assert draft.frozen_at is None
    assert seats(show) == before
    for rows in (
        Seat.objects.filter(section__scorecard=old),
        Judge.sections.through.objects.filter(section__scorecard=old),
        ClassCard.sections.through.objects.filter(section__scorecard=old),
    ):
        assert not rows.exists()
    assert {s.scorecard_id for s in judge_of(show).sections.all()} == {draft.pk}
    line = AuditEntry.objects.get(verb="put in use")
    assert line.before == {"in_use": str(old), "card": old.pk}
    assert line.after["card"] == draft.pk


def test_a_section_that_is_gone_takes_its_seats_with_it(
    show: Show, draft: Scorecard, who: dict[str, Any]
):
    Section.objects.get(scorecard=draft, code="harness").delete()
    plan = what_use_would_touch(card_version(show, draft.pk))
    assert [card.show_class.code for card in plan.classes] == ["trail"]
    assert [card.show_class.code for card in plan.emptied] == ["working_harness"]
    assert plan.seats_lost == 10
    said = " ".join(plan.sentences)
    assert "The section Harness is gone" in said
    assert "10 seats of the panel would be gone" in said
    assert "declared anew: Working harness" in said
    use(draft, who)
    assert {code for _, _, code in seats(show)} == {"running_gear", "camp_kit"}
    assert not ClassCard.objects.filter(show_class=class_of(show, "working_harness")).exists()
    trail = ClassCard.objects.get(show_class=class_of(show))
    assert {s.code for s in trail.sections.all()} == {"running_gear", "camp_kit"}
    assert [s.code for s in judge_of(show).sections.all()] == ["running_gear", "camp_kit"]


def test_a_ladder_loses_the_rung_that_is_gone(show: Show, draft: Scorecard, who: dict[str, Any]):
    Section.objects.get(scorecard=draft, code="running_gear").delete()
    use(draft, who)
    assert ClassCard.objects.get(show_class=class_of(show)).tie_ladder == ["camp_kit"]


def test_a_draft_that_cannot_work_is_refused_naming_each_fault(
    show: Show, draft: Scorecard, who: dict[str, Any]
):
    Criterion.objects.filter(section__scorecard=draft, section__code="camp_kit").delete()
    change(draft, "hn_lines", step=3)
    change(draft, "hn_leaders", one_of="front")
    change(draft, "hn_pole_straps", one_of="front")
    with pytest.raises(InvalidInput) as refused:
        use(draft, who)
    assert {"sections.1.criteria", "sections.2.criteria.1.step"} <= set(refused.value.fields)
    assert any("one_of" in place for place in refused.value.fields)
    assert used(show) != draft


def test_a_card_no_wagon_can_earn_points_on_is_refused(
    show: Show, draft: Scorecard, who: dict[str, Any]
):
    for code in ("ck_order", "ck_fire"):
        change(draft, code, applies={"pattern": ["military"]})
    with pytest.raises(Conflict, match="cannot be earned"):
        use(draft, who)


def test_only_a_draft_is_put_in_use(show: Show, draft: Scorecard, who: dict[str, Any]):
    old = used(show)
    with pytest.raises(Conflict, match="in use already"):
        use_scorecard(card=old, **who)
    use(draft, who)
    with pytest.raises(Conflict, match="Make a new version of it"):
        use_scorecard(card=old, **who)


def test_the_first_card_of_a_show_may_be_built_and_then_used(show: Show, who: dict[str, Any]):
    ClassCard.objects.all().delete()
    Scorecard.objects.filter(show=show).update(in_use=False, frozen_at=AT)
    card = begin_scorecard(show=show, name="Food", **who)
    with pytest.raises(InvalidInput):
        use(card, who)
    section = Section.objects.create(scorecard=card, code="food", name="F", points=5, minutes=2)
    add_row(section=section, fields={"name": "Taste", "max_mark": 10, "step": 1}, **who)
    assert use(card, who).in_use


# --- While judging ---------------------------------------------------------------------------


def test_a_change_while_judging_runs_needs_its_reason(
    show: Show, draft: Scorecard, who: dict[str, Any]
):
    mark_everything(show)
    with pytest.raises(InvalidInput) as refused:
        use(draft, who, reason=" ")
    assert (refused.value.code, list(refused.value.fields)) == ("reason-needed", ["reason"])
    use(draft, who, reason="The name of a row had a slip in it.")
    assert AuditEntry.objects.get(verb="put in use").reason.startswith("The name")


def test_practice_is_no_judging(show: Show, draft: Scorecard, who: dict[str, Any]):
    wagon = set_up_practice(show=show, wagon_name="Old Faithless", rig=RIGS[0], **who)
    send(pair(judge_of(show))[0], [mark(wagon, "hn_leather", 7)])
    use(draft, who, reason="")
    draft.refresh_from_db()
    assert draft.frozen_at == AT
    assert marks_of(show, "hn_leather") == {(draft.pk, False)}


def test_the_same_card_again_keeps_every_mark_and_every_card_handed_in(
    show: Show, draft: Scorecard, who: dict[str, Any]
):
    mark_everything(show)
    count = CardMark.objects.count()
    plan = what_use_would_touch(card_version(show, draft.pk))
    assert f"{count} marks given so far go over as given." in plan.sentences
    assert (len(plan.moves), plan.set_aside, plan.reopened) == (count, [], [])
    use(draft, who)
    moved = CardMark.objects.filter(criterion__section__scorecard=draft, aside=False)
    assert moved.count() == count
    assert not Card.objects.filter(handed_in_at__isnull=True).exists()
    draft.refresh_from_db()
    assert draft.frozen_at == AT
    assert compute_result(show_class=class_of(show), **who).placings.count() == 5


def test_a_row_that_takes_other_marks_sets_them_aside_and_opens_its_cards(
    show: Show, draft: Scorecard, who: dict[str, Any]
):
    mark_everything(show)
    old = used(show)
    marks = CardMark.objects.filter(criterion__code="rg_wheels").count()
    change(draft, "rg_wheels", max_mark=20)
    plan = what_use_would_touch(card_version(show, draft.pk))
    assert f"{marks} marks on {marks} cards would be set aside" in " ".join(plan.sentences)
    assert len(plan.reopened) == marks
    use(draft, who)
    assert marks_of(show, "rg_wheels") == {(old.pk, True)}
    assert marks_of(show, "rg_brakes") == {(draft.pk, False)}
    opened = set(Card.objects.filter(handed_in_at__isnull=True).values_list("pk", flat=True))
    assert opened == {card.pk for card in plan.reopened}
    seated = Seat.objects.filter(section__code="running_gear").values_list("judge", "entry")
    assert {(card.judge_id, card.entry_id) for card in plan.reopened} == set(seated)


def test_rows_gone_are_set_aside_and_open_no_card(
    show: Show, draft: Scorecard, who: dict[str, Any]
):
    mark_everything(show)
    old = used(show)
    Criterion.objects.get(section__scorecard=draft, code="ck_fire").delete()
    plan = what_use_would_touch(card_version(show, draft.pk))
    assert plan.reopened == []
    use(draft, who)
    assert marks_of(show, "ck_fire") == {(old.pk, True)}
    assert not Card.objects.filter(handed_in_at__isnull=True).exists()


def test_a_new_row_opens_the_cards_it_is_on(show: Show, draft: Scorecard, who: dict[str, Any]):
    mark_everything(show)
    section = Section.objects.select_related("scorecard").get(scorecard=draft, code="harness")
    six = {"name": "Swing team", "max_mark": 10, "step": 1, "applies": {"hitch": ["six_up"]}}
    add_row(section=section, fields=six, **who)
    use(draft, who)
    opened = Card.objects.filter(handed_in_at__isnull=True).select_related("entry")
    assert {card.entry.hitch for card in opened} == {"six_up"}
    assert opened.count() == 2
    one = opened[0]
    phone, _ = pair(Judge.objects.select_related("show", "person").get(pk=one.judge_id))
    done = send(phone, [mark(one.entry, "swing_team", 6), hand_in(one.entry)])
    assert [outcome.status for outcome in done] == ["applied", "applied"]
    one.refresh_from_db()
    assert one.handed_in_at


def test_a_row_no_longer_on_the_rig_keeps_its_mark_aside(
    show: Show, draft: Scorecard, who: dict[str, Any]
):
    mark_everything(show)
    change(draft, "ck_fire", applies={"tongue": ["drop"]})
    use(draft, who)
    marks = CardMark.objects.filter(criterion__code="ck_fire").select_related("card__entry")
    assert {(m.card.entry.tongue, m.aside) for m in marks} == {("drop", False), ("stiff", True)}
    assert {m.criterion_id for m in marks} <= set(row_ids(draft))
    assert not Card.objects.filter(handed_in_at__isnull=True).exists()


def test_a_row_in_another_section_keeps_its_marks_where_the_judge_sits_there(
    show: Show, draft: Scorecard, who: dict[str, Any]
):
    mark_everything(show)
    gear = Section.objects.get(scorecard=draft, code="running_gear")
    change(draft, "ck_order", section=gear, position=9)
    plan = what_use_would_touch(card_version(show, draft.pk))
    here = set(Seat.objects.filter(section__code="running_gear").values_list("judge", "entry"))
    had = set(Seat.objects.filter(section__code="camp_kit").values_list("judge", "entry"))
    assert {(card.judge_id, card.entry_id) for card in plan.reopened} == here - had


def test_marks_set_aside_come_back_with_their_row(
    show: Show, draft: Scorecard, who: dict[str, Any]
):
    mark_everything(show)
    first = used(show)
    values = dict(CardMark.objects.filter(criterion__code="ck_fire").values_list("card", "value"))
    Criterion.objects.get(section__scorecard=draft, code="ck_fire").delete()
    use(draft, who)
    again = new_version(card=first, **who)
    assert again.version == 3
    plan = what_use_would_touch(card_version(show, again.pk))
    assert f"{len(values)} marks set aside before would count again." in plan.sentences
    assert plan.reopened == []
    use(again, who)
    marks = CardMark.objects.filter(criterion__in=row_ids(again), criterion__code="ck_fire")
    assert dict(marks.filter(aside=False).values_list("card", "value")) == values


def test_a_judges_newer_mark_is_not_displaced_by_one_set_aside(
    show: Show, draft: Scorecard, who: dict[str, Any]
):
    judge = judge_of(show)
    seat = Seat.objects.filter(judge=judge, section__code="running_gear").first()
    assert seat
    phone, _ = pair(judge)
    entry = entry_of(show, seat.entry.number or 0)
    send(phone, [mark(entry, "rg_wheels", 9)])
    change(draft, "rg_wheels", max_mark=20)
    use(draft, who)
    send(phone, [mark(entry, "rg_wheels", 15)])
    third = new_version(card=draft, **who)
    use(third, who)
    live = CardMark.objects.get(criterion__code="rg_wheels", aside=False)
    assert (live.value, live.criterion_id in row_ids(third)) == (Decimal(15), True)
    kept = CardMark.objects.get(criterion__code="rg_wheels", aside=True)
    assert kept.value == Decimal(9)


def shown_points(show: Show) -> list[str]:
    """Return what the public page says each section is worth, class by class."""
    page = Client().get(reverse("judging:results", args=[show.slug])).content.decode()
    return re.findall(r"<br>of (\d+)", page)


def test_a_released_result_stands_and_a_new_one_needs_its_reason(
    show: Show, draft: Scorecard, who: dict[str, Any]
):
    mark_everything(show)
    release_results(show)
    before = list(Placing.objects.order_by("pk").values())
    Section.objects.filter(scorecard=draft, code="harness").update(points=90)
    plan = what_use_would_touch(card_version(show, draft.pk))
    assert "Results released before stand" in plan.sentences[-1]
    use(draft, {**who, "at": AT + timedelta(hours=1)})
    assert list(Placing.objects.order_by("pk").values()) == before
    assert shown_points(show) == ["80", "50", "70"]
    with pytest.raises(InvalidInput, match="needs its reason"):
        compute_result(show_class=class_of(show), **who)
    again = compute_result(show_class=class_of(show), reason="Harness is worth 90.", **who)
    assert again.possible_points == (40 + 25 + 90) * 2


def test_no_class_is_emptied_once_judging_has_begun(
    show: Show, draft: Scorecard, who: dict[str, Any]
):
    mark_everything(show)
    Section.objects.get(scorecard=draft, code="harness").delete()
    with pytest.raises(Conflict, match="Working harness would count no section"):
        use(draft, who)
    assert ClassCard.objects.filter(show_class__show=show).count() == 2
    assert used(show) != draft


def test_reading_what_it_would_touch_asks_as_often_for_a_large_show(
    show: Show, draft: Scorecard, django_assert_max_num_queries: Any
):
    mark_everything(show)
    assert rows_of(judge_of(show), entry_of(show, 2)) is not None
    with django_assert_max_num_queries(32):
        what_use_would_touch(card_version(show, draft.pk))
