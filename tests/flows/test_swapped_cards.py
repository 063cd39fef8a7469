"""Two cards filled in for each other: asked, given back, put right, signed; nothing is dropped."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from judging.actions.compute_result import compute_result
from judging.actions.release_result import release_result, sign_result
from judging.models import CardMark, Question, Result
from showrun.errors import NotYet
from showrun.shows.models import Show
from tests.judged_show import (
    AT,
    answer,
    class_of,
    entry_of,
    hand_in,
    judge_of,
    mark,
    office_of,
    rows_of,
    send,
    steward_of,
)
from tests.panel_stage import ROWS, clean_marks, judged_as, with_swap

pytestmark = pytest.mark.django_db


def placed(result: Result) -> list[tuple[Any, ...]]:
    return [(one.place, one.entry.number, one.total) for one in result.placings.all()]


def put_right(show: Show, number: int) -> list[dict[str, Any]]:
    """Return the touches by which J2 gives a wagon the marks that were meant."""
    judge, entry = judge_of(show, "J2"), entry_of(show, number)
    meant = clean_marks()[number - 1, 1]
    touches = [
        mark(entry, row.code, int(meant[ROWS.index(row.code)])) for row in rows_of(judge, entry)
    ]
    return [*touches, hand_in(entry)]


def test_a_swap_is_asked_put_right_by_its_judge_and_gone_from_the_result(client: Client):
    show = judged_as(with_swap())
    office, steward, trail = office_of(show), steward_of(show), class_of(show)
    n_marks = CardMark.objects.count()
    swapped = compute_result(show_class=trail, by=office, at=AT)
    (asked,) = Question.objects.all()
    assert (asked.kind, asked.judge.code) == ("swaps", "J2")
    with pytest.raises(NotYet, match="1 question waits"):
        sign_result(result=swapped, by=office, at=AT)

    phone = judge_of(show, "J2").devices.get()
    send(phone, [answer(asked, "correct")])
    with pytest.raises(NotYet):
        sign_result(result=swapped, by=office, at=AT)
    outcomes = send(phone, [*put_right(show, 2), *put_right(show, 7)])
    assert {one.status for one in outcomes} == {"applied"}
    assert CardMark.objects.count() == n_marks

    result = compute_result(show_class=trail, by=office, at=AT)
    assert not Question.objects.filter(state__in=Question.WAITING).exists()
    meant = judged_as(clean_marks(), slug="meant")
    wanted = compute_result(show_class=class_of(meant), by=office_of(meant), at=AT)
    assert placed(result) == placed(wanted) != placed(swapped)
    for hand in (office, steward):
        sign_result(result=result, by=hand, at=AT)
    release_result(result=result, by=office, at=AT)
    client.force_login(steward)
    page = client.get(reverse("judging:questions", args=[show.slug])).content.decode()
    assert "both cards went back to the judge" in page
