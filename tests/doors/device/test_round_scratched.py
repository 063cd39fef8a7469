"""What a judge's phone is told of a wagon that was scratched after its times were published."""

from __future__ import annotations

from typing import Any

import pytest

from entries.actions.decide_entry import scratch_entry
from entries.models import Entry
from judging.actions.announce import change_times
from judging.actions.compute_result import compute_result
from judging.actions.mend_panel import mend_panel
from judging.models import CardMark, Judge, Seat, Visit, Window
from judging.queries.progress import progress_of
from showrun.shows.models import Show
from tests.http_phone import Phone, first_entry, held_at_the_office
from tests.judged_show import (
    AT,
    class_of,
    concern,
    fair,
    hand_in,
    mark,
    mark_everything,
    office_of,
    rows_of,
)

pytestmark = pytest.mark.django_db


def scratch(show: Show, entry: Entry) -> None:
    scratch_entry(entry=entry, by=office_of(show), at=AT, reason="Lame wheeler.")


def told(phone: Phone, entry: Entry) -> dict[str, Any] | None:
    visits = phone.round().json()["visits"]
    return next((dict(visit) for visit in visits if visit["entry"]["id"] == entry.pk), None)


@pytest.mark.parametrize("mended", [False, True])
def test_the_phone_says_scratched_and_the_marks_stay_with_it(
    show: Show, judge: Judge, phone: Phone, mended: bool
):
    entry = first_entry(judge)
    first, second = rows_of(judge, entry)[:2]
    phone.send(phone.stamp([mark(entry, first.code, 7)]))
    before = told(phone, entry)
    assert before and (before["scratched"], bool(before["sections"])) == (False, True)
    tag = phone.round()["ETag"]
    scratch(show, entry)
    if mended:
        mend_panel(show=show, by=office_of(show), at=AT, reason="Lame wheeler.", retime=False)
    # The next contact brings it: the round is another one now.
    assert phone.round(**{"if-none-match": tag}).status_code == 200
    after = told(phone, entry)
    assert after
    assert (after["scratched"], after["sections"], after["entry"]["spot"]) == (True, [], None)
    assert after["card"]["marks"] == {first.code: {"state": "marked", "value": "7"}}
    others = [visit for visit in phone.round().json()["visits"] if not visit["scratched"]]
    assert others and all(visit["sections"] for visit in others)
    # What a phone without signal still brings lies on the same card, and nothing waits.
    late = [mark(entry, second.code, 5), concern(entry, "stop", "Line is cut.")]
    assert {one["status"] for one in phone.send(phone.stamp(late))} == {"applied"}
    kept = CardMark.objects.filter(card__judge=judge, card__entry=entry)
    assert set(kept.values_list("criterion__code", flat=True)) == {first.code, second.code}
    assert held_at_the_office(show) == []


def test_a_card_of_a_scratched_wagon_blocks_no_result(show: Show, judge: Judge, phone: Phone):
    entry = first_entry(judge)
    phone.send(phone.stamp([mark(entry, rows_of(judge, entry)[0].code, 7), hand_in(entry)]))
    scratch(show, entry)
    expected = progress_of(show).cards_expected
    mark_everything(show, fair, leave_out=[
        (seat.judge.code, entry.number or 0)
        for seat in Seat.objects.filter(entry=entry).select_related("judge")
    ])  # fmt: skip
    assert progress_of(show).cards_in == expected
    result = compute_result(show_class=class_of(show), by=office_of(show), at=AT)
    assert entry.pk not in set(result.placings.values_list("entry", flat=True))
    assert result.placings.count() == 4


def test_a_visit_called_off_is_still_told_as_scratched(show: Show, judge: Judge, phone: Phone):
    entry = first_entry(judge)
    scratch(show, entry)
    pairs = Visit.objects.filter(entry=entry).values_list("judge_id", "entry_id")
    change_times(
        show=show, times={}, called_off=set(pairs), reason="Lame wheeler.", by=office_of(show),
        at=AT,
    )  # fmt: skip
    assert not Visit.objects.filter(entry=entry).exists()
    after = told(phone, entry)
    assert after and (after["scratched"], after["starts_at"]) == (True, None)


def test_one_scratched_before_anything_was_told_is_not_spoken_of(
    show: Show, judge: Judge, phone: Phone
):
    Window.objects.update(published_at=None)
    entry = first_entry(judge)
    scratch(show, entry)
    assert told(phone, entry) is None


def test_a_wagon_the_judge_never_was_to_see_is_not_spoken_of(
    show: Show, judge: Judge, phone: Phone
):
    entry = first_entry(judge)
    Seat.objects.filter(judge=judge, entry=entry).delete()
    Visit.objects.filter(judge=judge, entry=entry).delete()
    scratch(show, entry)
    assert told(phone, entry) is None
