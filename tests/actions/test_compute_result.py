"""What a result keeps: every method, how sure it is, the purse, and what it lacks."""

from __future__ import annotations

import json
import uuid
from decimal import Decimal
from itertools import pairwise
from typing import Any

import pytest

from judging.actions.accept_gaps import accept_gaps
from judging.actions.compute_result import compute_result
from judging.actions.record_events import record_events
from judging.actions.release_result import release_result, sign_result
from judging.models import Card, ClassCard, Question, Result, RoundEvent
from judging.queries.computed import kept_hash
from judging.queries.results import class_inputs
from showrun.errors import Conflict, InvalidInput, NotYet
from showrun.shows.models import AuditEntry, Show
from tests.judged_show import (
    AT,
    build_show,
    class_of,
    draw_panel,
    mark_everything,
    office_of,
    steward_of,
)

pytestmark = pytest.mark.django_db
METHODS = {"plain", "mean", "trimmed", "judge_adjusted", "crossed", "placings"}


def judged(**more: Any) -> Show:
    """A show whose three judges saw every wagon; the trail class has a purse."""
    show = build_show(n_judges=3, judges_per_section=3, kin=False)
    ClassCard.objects.filter(show_class=class_of(show)).update(
        purse_cents=100_001, purse_weights=["50", "30", "20"]
    )
    draw_panel(show)
    mark_everything(show, **more)
    return show


def compute(show: Show, code: str = "trail", **more: Any) -> Result:
    return compute_result(show_class=class_of(show, code), by=office_of(show), at=AT, **more)


def close_questions(show: Show) -> None:
    Question.objects.filter(judge__show=show).update(state="confirmed")


def test_a_result_keeps_every_method_and_how_sure_it_is() -> None:
    show = judged()
    result = compute(show)
    lines = list(result.placings.select_related("entry"))
    # Three judges cannot be trimmed; it says so.
    assert set(lines[0].by_method) == METHODS - {"trimmed"}
    assert "4 judges or more" in result.refusals["trimmed"]
    for line in lines:
        assert line.by_method["plain"] == {
            "total": f"{line.total:.2f}",
            "place": line.place,
            "decided_by": line.decided_by,
        }
        assert line.plain_total == line.total
        assert line.adjusted_total == Decimal(line.by_method["judge_adjusted"]["total"])
        assert line.rank_low and line.rank_high
        assert 1 <= line.rank_low <= line.rank_high <= 5
        assert (line.best_place, line.worst_place) == (None, None)
    sure = result.uncertainty
    assert (sure["basis"], sure["refused"]) == ("sections", "")
    pairs = [(pair["above"], pair["below"]) for pair in sure["neighbours"]]
    numbers = [line.entry.number for line in lines]
    assert pairs == list(pairwise(numbers))
    assert all(0 <= pair["chance"] <= 1 for pair in sure["neighbours"])
    assert (result.gaps, result.rule_version) == ([], "5")
    # What is kept is what was hashed, on either database.
    assert result.result_hash == kept_hash(Result.objects.get(pk=result.pk))


def test_the_purse_is_kept_to_the_cent_and_paid_once() -> None:
    show = judged()
    lines = list(compute(show).placings.all())
    assert [line.purse_cents for line in lines] == [50_001, 30_000, 20_000, 0, 0]
    assert sum(line.purse_cents for line in compute(show, "working_harness").placings.all()) == 0


def test_a_purse_declared_otherwise_makes_another_result() -> None:
    show = judged()
    first = compute(show)
    assert compute(show) == first
    ClassCard.objects.filter(show_class=class_of(show)).update(purse_weights=["60", "40"])
    second = compute(show)
    assert second.version == 2
    assert second.result_hash != first.result_hash


def test_ten_thousand_events_sent_again_change_nothing() -> None:
    show = judged()
    before = compute(show)
    kept = RoundEvent.objects.count()
    told = 0
    while told < 10_000:
        for judge in {event.device for event in RoundEvent.objects.select_related("device__judge")}:
            bodies = [event.body for event in RoundEvent.objects.filter(device=judge)]
            outcomes, _ = record_events(device=judge, events=bodies * 12, at=AT)
            assert {outcome.status for outcome in outcomes} == {"duplicate"}
            told += len(outcomes)
    assert RoundEvent.objects.count() == kept
    assert compute(show) == before
    Result.objects.all().delete()
    assert compute(show).result_hash == before.result_hash


# --- Cards missing ---------------------------------------------------------------------------


def with_a_gap() -> Show:
    return judged(leave_out=[("J2", 3)])


def test_a_class_with_a_card_missing_is_computed_only_when_that_is_wanted() -> None:
    show = with_a_gap()
    with pytest.raises(NotYet) as refused:
        compute(show)
    assert refused.value.code == "incomplete"
    result = compute(show, with_gaps=True)
    assert [(gap["entry"], gap["judge"], gap["section"]) for gap in result.gaps] == [
        (3, "J2", "running_gear"),
        (3, "J2", "camp_kit"),
        (3, "J2", "harness"),
    ]
    assert all(gap["rows"] > 0 and gap["handed_in"] is False for gap in result.gaps)
    line = result.placings.get(entry__number=3)
    points = [card for card in class_inputs(class_of(show)).points if card.entry == 3]
    for section in ("running_gear", "camp_kit", "harness"):
        there = [card.points for card in points if card.section == section]
        assert len(there) == 2
        scaled = sum(there, Decimal(0)) * 3 / 2
        assert abs(Decimal(line.by_section[section]) - scaled) <= Decimal("0.005")
    assert line.best_place and line.worst_place
    assert line.best_place <= line.place <= line.worst_place
    assert line.best_place < line.worst_place
    # Places of the judges need every card; the others do without.
    assert "J2 at entry 3" in result.refusals["placings"]
    assert set(line.by_method) == METHODS - {"trimmed", "placings"}
    # The same marks give the same version, wanted so or not.
    assert compute(show, with_gaps=True) == result
    mark_everything(show)
    assert compute(show).version == 2


def test_a_result_with_gaps_is_signed_and_released_only_after_it_was_accepted_in_writing() -> None:
    show = with_a_gap()
    result = compute(show, with_gaps=True)
    close_questions(show)
    office, steward = office_of(show), steward_of(show)
    with pytest.raises(NotYet) as refused:
        sign_result(result=result, by=steward, at=AT)
    assert refused.value.code == "gaps-not-accepted"
    with pytest.raises(InvalidInput) as no_reason:
        accept_gaps(result=result, by=office, reason=" ", at=AT)
    assert list(no_reason.value.fields) == ["reason"]
    with pytest.raises(InvalidInput):
        accept_gaps(result=result, by=office, reason="w" * 301, at=AT)
    accepted = accept_gaps(result=result, by=office, reason=" J2 fell ill. ", at=AT)
    assert (accepted.gaps_accepted_by, accepted.gaps_reason) == (office, "J2 fell ill.")
    line = AuditEntry.objects.get(verb="accepted gaps")
    assert (line.actor, line.reason, len(line.after["gaps"])) == (office, "J2 fell ill.", 3)
    # Once is enough, and the first reason stays.
    again = accept_gaps(result=result, by=steward, reason="Again.", at=AT)
    assert (again.gaps_accepted_by, again.gaps_reason) == (office, "J2 fell ill.")
    assert AuditEntry.objects.filter(verb="accepted gaps").count() == 1
    for hand in (office, steward):
        sign_result(result=result, by=hand, at=AT)
    assert release_result(result=result, by=office, at=AT).released_at == AT


def test_the_release_asks_for_the_gaps_by_itself() -> None:
    show = with_a_gap()
    result = compute(show, with_gaps=True)
    close_questions(show)
    accept_gaps(result=result, by=office_of(show), reason="J2 fell ill.", at=AT)
    for hand in (office_of(show), steward_of(show)):
        sign_result(result=result, by=hand, at=AT)
    Result.objects.filter(pk=result.pk).update(gaps_accepted_at=None)
    with pytest.raises(NotYet) as refused:
        release_result(result=result, by=office_of(show), at=AT)
    assert refused.value.code == "gaps-not-accepted"


def test_gaps_are_accepted_of_the_newest_version_that_has_some() -> None:
    show = with_a_gap()
    first = compute(show, with_gaps=True)
    mark_everything(show)
    second = compute(show)
    with pytest.raises(Conflict, match="newer version"):
        accept_gaps(result=first, by=office_of(show), reason="Late.", at=AT)
    with pytest.raises(Conflict, match="nothing to accept"):
        accept_gaps(result=second, by=office_of(show), reason="Late.", at=AT)


def test_a_wagon_nobody_saw_in_a_section_has_no_place() -> None:
    show = judged(leave_out=[("J1", 3), ("J2", 3), ("J3", 3)])
    with pytest.raises(NotYet) as refused:
        compute(show, with_gaps=True)
    assert "entry 3, running_gear" in refused.value.detail
    assert not Result.objects.exists()


@pytest.mark.parametrize("method", sorted(METHODS - {"trimmed"}))
def test_each_method_decides_where_it_is_declared(method: str) -> None:
    show = judged()
    ClassCard.objects.filter(show_class=class_of(show)).update(method=method)
    result = compute(show)
    assert result.method == method
    for line in result.placings.all():
        assert line.by_method[method]["total"] == f"{line.total:.2f}"
        assert line.by_method[method]["place"] == line.place


def test_a_method_that_cannot_be_used_is_refused_with_its_sentence() -> None:
    show = judged()
    ClassCard.objects.filter(show_class=class_of(show)).update(method="trimmed")
    with pytest.raises(Conflict) as refused:
        compute(show)
    assert refused.value.code == "method-refused"
    assert "4 judges or more" in refused.value.detail


def test_all_equal_marks_share_the_first_place_and_the_whole_purse() -> None:
    show = judged(value=5)
    result = compute(show)
    lines = list(result.placings.order_by("entry__number"))
    assert {line.place for line in lines} == {1}
    assert [line.purse_cents for line in lines] == [20_001, 20_000, 20_000, 20_000, 20_000]
    assert "crossed" not in result.refusals
    json.dumps(result.uncertainty, allow_nan=False)
    assert all(not pair["told_apart"] for pair in result.uncertainty["neighbours"])


def test_the_record_has_the_hash_of_the_result() -> None:
    show = judged()
    result = compute(show)
    line = AuditEntry.objects.filter(verb="computed").latest("pk")
    assert line.after["result"] == result.result_hash
    assert Card.objects.filter(handed_in_at=None).count() == 0
    assert uuid.UUID(int=0) not in set(RoundEvent.objects.values_list("pk", flat=True))
