"""Questions and results over the API: asked, answered, computed, signed by two, released."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest

from judging.models import CardMark, Judge, Question, Result, Seat
from showrun.shows.models import AuditEntry, Show
from tests.http_api import get, post, took
from tests.judged_show import (
    AT,
    build_show,
    class_of,
    fair,
    mark_everything,
    office_of,
    open_window,
    steward_of,
)
from tests.kept import kept_for_module
from tests.problems import problem

pytestmark = pytest.mark.django_db


# --- Questions -----------------------------------------------------------------------------


def slip(judge: Judge, entry: Any, criterion: Any) -> int:
    """Give fair marks, save that J1 writes 0 for the order of entry 2's camp."""
    slipped = (judge.code, entry.number, criterion.code) == ("J1", 2, "ck_order")
    return 0 if slipped else 8 if criterion.code == "ck_order" else fair(judge, entry, criterion)


@pytest.fixture(scope="module")
def slipped_pk(django_db_setup: None, django_db_blocker: Any) -> Iterator[int]:
    """A show, wholly judged, with one slip."""
    with kept_for_module(django_db_blocker):
        show = build_show(slug="slip", n_judges=3, judges_per_section=3, kin=False)
        mark_everything(show, slip)
        yield show.pk


@pytest.fixture
def slipped(slipped_pk: int, db: None) -> Show:
    return Show.objects.get(pk=slipped_pk)


def test_the_slip_is_asked_about_once_and_nothing_is_changed(slipped: Show):
    steward, path = steward_of(slipped), f"shows/{slipped.slug}/questions"
    marks = sorted(CardMark.objects.values_list("pk", "state", "value"))
    asked = took(post(steward, path), 201)
    assert asked["marks_checked"] > 50
    (question,) = asked["asked"]
    assert (question["judge"], question["entry"], question["criterion"]) == ("J1", 2, "ck_order")
    assert (question["value"], question["state"]) == ("0.00", "open")
    assert abs(question["statistic"]) > question["threshold"]
    assert asked["threshold"] == pytest.approx(question["threshold"], abs=0.001)
    assert took(post(steward, path), 201)["asked"] == []
    assert took(get(steward, path)) == [question]
    assert sorted(CardMark.objects.values_list("pk", "state", "value")) == marks
    progress = took(get(steward, f"shows/{slipped.slug}/progress"))
    assert progress["open_questions"] == 1


@pytest.mark.parametrize(
    ("sent", "code", "field"),
    [
        ({"verdict": "correct", "value": "11"}, "mark-over-maximum", "value"),
        ({"verdict": "correct", "value": "-1"}, "mark-below-zero", "value"),
        ({"verdict": "correct", "value": "7.5"}, "mark-off-step", "value"),
        ({"verdict": "correct"}, "mark-missing", "value"),
        ({"verdict": "correct", "value": "NaN"}, "invalid-input", "value"),
        ({"verdict": "correct", "value": "1e-99999999999"}, "invalid-input", "value"),
        ({"verdict": "correct", "value": "eight"}, "invalid-input", "value"),
        ({"verdict": "correct", "value": "8", "reason": ""}, "invalid-input", "reason"),
        ({"verdict": "correct", "value": "8", "reason": "  "}, "invalid-input", "reason"),
        ({"verdict": "confirm", "reason": "x" * 301}, "invalid-input", "reason"),
        ({"verdict": "shrug"}, "invalid-input", "verdict"),
        ({"verdict": None}, "invalid-input", "verdict"),
    ],
)
def test_a_bad_answer_is_refused_and_the_question_stays_open(
    slipped: Show, sent: dict[str, Any], code: str, field: str
):
    steward = steward_of(slipped)
    took(post(steward, f"shows/{slipped.slug}/questions"), 201)
    question = Question.objects.get(judge__show=slipped)
    answered = post(steward, f"questions/{question.pk}/answer", {"reason": "Told me", **sent})
    assert set(problem(answered, 422, code)["errors"]) == {field}
    question.refresh_from_db()
    assert question.state == Question.State.OPEN
    assert CardMark.objects.get(card__judge=question.judge, card__entry=question.entry,
                                criterion=question.criterion).value == 0  # fmt: skip


def test_a_correction_changes_the_mark_by_two_officers_and_is_on_record(slipped: Show):
    steward, office = steward_of(slipped), office_of(slipped)
    took(post(steward, f"shows/{slipped.slug}/questions"), 201)
    question = Question.objects.get(judge__show=slipped)
    sent = {"verdict": "correct", "value": "8", "reason": "Told me: a slip of the thumb"}
    done = took(post(steward, f"questions/{question.pk}/answer", sent))
    assert (done["state"], done["proposed_by"]) == ("proposed", steward.name)
    stands = CardMark.objects.get(card__judge=question.judge, card__entry=question.entry,
                                  criterion=question.criterion)  # fmt: skip
    assert stands.value == 0
    problem(post(steward, f"questions/{question.pk}/stand-by"), 409, "second-officer-needed")
    took(post(office, f"questions/{question.pk}/send-back", {"reason": "Ask again"}))
    took(post(steward, f"questions/{question.pk}/answer", sent))
    done = took(post(office, f"questions/{question.pk}/stand-by"))
    assert done["state"] == "corrected"
    stands.refresh_from_db()
    assert stands.value == 8
    line = AuditEntry.objects.get(verb="corrected a mark")
    assert (line.actor, line.before) == (office, {"mark": "0"})
    assert line.after == {"mark": "8", "proposed_by": steward.name}
    assert line.reason == "Told me: a slip of the thumb"
    problem(post(steward, f"questions/{question.pk}/answer", sent), 409, "conflict")


def test_a_question_is_closed_with_a_reason_and_a_finding_put_to_its_judge(slipped: Show):
    steward = steward_of(slipped)
    took(post(steward, f"shows/{slipped.slug}/questions"), 201)
    question = Question.objects.get(judge__show=slipped)
    path = f"questions/{question.pk}/close"
    problem(post(steward, path, {"reason": " "}), 422, "invalid-input")
    done = took(post(steward, path, {"reason": "The judge went home"}))
    assert (done["state"], done["kind"], done["check"]) == ("closed", "marks", "marks")
    assert "the card says 0" in done["sentence"]
    problem(post(steward, path, {"reason": "Again"}), 409, "conflict")
    ask = f"shows/{slipped.slug}/findings/ask"
    problem(post(steward, ask, {"check": "order"}), 409, "finding-gone")
    problem(post(steward, ask, {"check": "looks"}), 422, "invalid-input")


# --- Results -------------------------------------------------------------------------------


@pytest.mark.usefixtures("db")
def test_an_incomplete_class_names_what_is_missing():
    show = build_show()
    open_window(show)
    office, trail = office_of(show), class_of(show)
    problem(get(office, f"classes/{trail.pk}/result"), 404, "not-found")
    seat = Seat.objects.filter(judge__show=show).select_related("judge", "entry").first()
    assert seat and seat.entry.number
    left = (seat.judge.code, seat.entry.number)
    mark_everything(show, leave_out=[left])
    refused = problem(post(office, f"classes/{trail.pk}/result"), 409, "incomplete")
    assert {(gap["judge"], gap["entry"]) for gap in refused["missing"]} == {left}
    assert all(gap["rows_without_mark"] > 0 for gap in refused["missing"])
    assert not any(gap["handed_in"] for gap in refused["missing"])
    assert left[0] in refused["detail"]
    assert not Result.objects.exists()


def test_open_questions_keep_every_hand_off_the_result(slipped: Show):
    office, steward, trail = office_of(slipped), steward_of(slipped), class_of(slipped)
    result = took(post(office, f"classes/{trail.pk}/result"))
    # computing runs the checks, so no result is signed unchecked
    question = Question.objects.get(judge__show=slipped, state=Question.State.OPEN)
    for hand in (office, steward):
        refused = problem(post(hand, f"results/{result['id']}/sign"), 409, "questions-open")
        assert "1 question waits" in refused["detail"]
    sent = {"verdict": "correct", "value": "8", "reason": "slip"}
    took(post(steward, f"questions/{question.pk}/answer", sent))
    problem(post(office, f"results/{result['id']}/sign"), 409, "questions-open")
    took(post(office, f"questions/{question.pk}/stand-by"))
    problem(post(office, f"results/{result['id']}/sign"), 409, "marks-changed")
    newer = took(post(office, f"classes/{trail.pk}/result"))
    assert newer["version"] == 2
    problem(post(office, f"results/{result['id']}/sign"), 409, "conflict")
    assert took(post(office, f"results/{newer['id']}/sign"))["signatures"] == [office.name]


@pytest.fixture(scope="module")
def computed_pk(slipped_pk: int, django_db_blocker: Any) -> Iterator[int]:
    """Another show, wholly judged without a slip."""
    with kept_for_module(django_db_blocker):
        show = build_show(slug="clean")
        mark_everything(show)
        yield show.pk


@pytest.fixture
def clean(computed_pk: int, db: None) -> Show:
    return Show.objects.get(pk=computed_pk)


def sign_both(show: Show, result_id: int) -> None:
    for hand in (office_of(show), steward_of(show)):
        took(post(hand, f"results/{result_id}/sign"))


def test_two_different_hands_are_needed_before_release(clean: Show):
    office, steward, trail = office_of(clean), steward_of(clean), class_of(clean)
    result = took(post(office, f"classes/{trail.pk}/result"))
    assert took(post(steward, f"classes/{trail.pk}/result"))["id"] == result["id"]
    release = f"results/{result['id']}/release"
    problem(post(office, release), 409, "signatures-missing")
    took(post(office, f"results/{result['id']}/sign"))
    twice = problem(post(office, f"results/{result['id']}/sign"), 409, "conflict")
    assert "another person" in twice["detail"]
    assert "it has 1" in problem(post(office, release), 409, "signatures-missing")["detail"]
    assert took(get(None, f"shows/{clean.slug}/results")) == []
    took(post(steward, f"results/{result['id']}/sign"))
    problem(post(steward, release), 403, "not-allowed")
    assert took(get(None, f"shows/{clean.slug}/results")) == []
    released = took(post(office, release))
    assert released["released_at"]
    assert took(post(office, release)) == released
    problem(post(office, f"results/{result['id']}/sign"), 409, "conflict")


def test_what_is_public_is_released_and_no_more(clean: Show):
    office = office_of(clean)
    for show_class in clean.classes.all():
        took(post(office, f"classes/{show_class.pk}/result"))
    assert took(get(None, f"shows/{clean.slug}/results")) == []
    result = Result.objects.get(show_class=class_of(clean))
    sign_both(clean, result.pk)
    assert took(get(None, f"shows/{clean.slug}/results")) == []
    took(post(office, f"results/{result.pk}/release"))
    (public,) = took(get(None, f"shows/{clean.slug}/results"))
    assert set(public) == {"id", "show_class", "version", "method", "possible_points",
                           "released_at", "result_hash", "missing_cards",
                           "missing_cards_reason", "placings"}  # fmt: skip
    assert public["show_class"] == "trail"
    assert [set(line) for line in public["placings"]] == [
        {"place", "entry", "wagon_name", "total", "decided_by", "by_section", "purse_cents"}
    ] * 5
    assert [line["place"] for line in public["placings"]] == [1, 2, 3, 4, 5]
    text = json.dumps(public)
    for judge in Judge.objects.filter(show=clean).select_related("person"):
        assert judge.person.name not in text


def test_a_correction_after_release_needs_its_reason_and_replaces_on_release(clean: Show):
    office, trail = office_of(clean), class_of(clean)
    first = took(post(office, f"classes/{trail.pk}/result"))
    sign_both(clean, first["id"])
    took(post(office, f"results/{first['id']}/release"))
    public = took(get(None, f"shows/{clean.slug}/results"))
    # nothing changed: the same version, and no reason asked for
    assert took(post(office, f"classes/{trail.pk}/result"))["version"] == 1
    stands = CardMark.objects.filter(card__judge__show=clean, value=5).first()
    assert stands
    asked = Question.objects.create(
        judge=stands.card.judge, entry=stands.card.entry, criterion=stands.criterion, value=5,
        expected=9, statistic=4.0, threshold=3.5, alpha=0.05, asked_at=AT,
    )  # fmt: skip
    sent = {"verdict": "correct", "value": "9", "reason": "read the wrong row"}
    took(post(office, f"questions/{asked.pk}/answer", sent))
    took(post(steward_of(clean), f"questions/{asked.pk}/stand-by"))
    refused = problem(post(office, f"classes/{trail.pk}/result"), 422, "reason-needed")
    assert set(refused["errors"]) == {"reason"}
    problem(post(office, f"classes/{trail.pk}/result", {"reason": " "}), 422, "reason-needed")
    newer = took(post(office, f"classes/{trail.pk}/result", {"reason": "wrong row"}))
    assert (newer["version"], newer["signatures"], newer["released_at"]) == (2, [], None)
    assert took(get(None, f"shows/{clean.slug}/results")) == public, "the old one stands meanwhile"
    for question in Question.objects.filter(state=Question.State.OPEN):
        sent = {"verdict": "confirm", "reason": "as meant"}
        took(post(office, f"questions/{question.pk}/answer", sent))
    sign_both(clean, newer["id"])
    took(post(office, f"results/{newer['id']}/release"))
    (now_public,) = took(get(None, f"shows/{clean.slug}/results"))
    assert (now_public["version"], now_public["id"]) == (2, newer["id"])
