"""What is kept of a show's results is what the events of its round give, and tampering is named."""

from __future__ import annotations

from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from judging.actions.compute_result import compute_result
from judging.models import Card, CardMark, Placing, Question, Result, RoundEvent
from showrun.shows.models import Show
from tests.judged_show import (
    AT,
    build_show,
    class_of,
    clear,
    entry_of,
    hand_in,
    judge_of,
    mark,
    mark_everything,
    office_of,
    pair,
    send,
)
from tests.remembered import remembered
from tests.tampered import unguarded

pytestmark = pytest.mark.django_db


@pytest.fixture
@remembered
def show() -> Show:
    """A show judged and computed."""
    show = build_show()
    mark_everything(show)
    for show_class in show.classes.all():
        compute_result(show_class=show_class, by=office_of(show), at=AT)
    return show


def verify(show: Show) -> list[str]:
    """Return what the command says, a line each; the last one is its verdict."""
    said = StringIO()
    try:
        call_command("verify_results", show.slug, stdout=said)
    except CommandError as fault:
        verdict = [f"{fault}" if fault.returncode == 1 else f"ends with {fault.returncode}"]
    else:
        verdict = []
    return [*said.getvalue().splitlines(), *verdict]


def test_an_untouched_show_verifies(show):
    assert verify(show) == [
        "Three Kettles Chuckwagon Days: the results of 2 classes are those that the events give."
    ]


def test_a_show_that_is_not_there_is_said(db):
    with pytest.raises(CommandError, match="There is no show “nowhere”"):
        call_command("verify_results", "nowhere")


def test_a_mark_changed_behind_the_back_is_named_with_judge_wagon_and_row(show):
    found = CardMark.objects.filter(card__entry__number=3, criterion__code="hn_lines").earliest(
        "pk"
    )
    assert found.event
    given = found.event.body["value"]
    CardMark.objects.filter(pk=found.pk).update(value=1)
    assert verify(show) == [
        f"{found.card.judge}, wagon 3. Copper Moth, {found.criterion} (hn_lines): 1 is kept, the "
        f"events give {given}.",
        "Three Kettles Chuckwagon Days: 1 difference.",
    ]


def test_a_mark_thrown_away_or_set_aside_behind_the_back_is_named(show):
    gone, aside = CardMark.objects.filter(criterion__code="hn_lines").order_by("pk")[:2]
    where = f"{aside.card.judge}, wagon {aside.card.entry}, {aside.criterion} (hn_lines)"
    CardMark.objects.filter(pk=aside.pk).update(aside=True)
    gone.delete()
    lines = verify(show)
    assert f"{where}: the mark is set aside though the rig has the row." in lines
    assert any("hn_lines: no mark is kept, the events give" in line for line in lines)


def test_a_changed_placing_is_named_with_both_places(show):
    line = Placing.objects.filter(result__show_class__code="trail").get(place=2)
    Placing.objects.filter(pk=line.pk).update(place=1)
    assert verify(show) == [
        f"Trail wagon, version 1, wagon {line.entry.number}: place 1 is kept, the recomputed "
        "result has 2.",
        "Trail wagon, version 1: what is kept of it does not match its result_hash.",
        "Three Kettles Chuckwagon Days: 2 differences.",
    ]


def test_a_placing_changed_with_its_hash_is_named_all_the_same(show):
    from judging.queries.computed import kept_hash

    line = Placing.objects.filter(result__show_class__code="trail").get(place=1)
    Placing.objects.filter(pk=line.pk).update(total=line.total + 1, purse_cents=100)
    result = Result.objects.get(pk=line.result_id)
    Result.objects.filter(pk=result.pk).update(result_hash=kept_hash(result))
    said = verify(show)
    where = f"Trail wagon, version 1, wagon {line.entry.number}"
    assert said[:-1] == [
        f"{where}: total {line.total + 1} is kept, the recomputed result has {line.total}.",
        f"{where}: purse in cents 100 is kept, the recomputed result has 0.",
    ]


def test_a_tampered_event_is_named_by_its_hash(show):
    event = RoundEvent.objects.filter(kind="mark").order_by("received_at", "seq")[3]
    event.body = {**event.body, "value": "0"}
    with unguarded(RoundEvent):
        event.save()
    first, second, *_ = verify(show)
    judge = event.device.judge
    assert first == (
        f"Event {event.pk} (mark of {judge.code}, count {event.seq}): its body is not what was "
        "sent; it does not match its body_hash."
    )
    # The mark it gave is not explained any more.
    assert second.startswith(f"{judge}, wagon ")
    assert second.endswith("is kept, the events give 0.")


def test_a_card_handed_in_by_nobody_is_named(show):
    card = Card.objects.select_related("judge", "entry").earliest("pk")
    Card.objects.filter(pk=card.pk).update(handed_in_seq=10_000)
    (line, _) = verify(show)
    assert line == f"{card.judge}, wagon {card.entry}: the card is in, and no event handed it in."


def test_marks_that_came_after_a_result_are_no_fault_of_it(show):
    """The judge's card comes back, a mark is changed by the phone, nothing is computed again."""
    given = CardMark.objects.filter(criterion__code="hn_lines").latest("pk")
    card = given.card
    Card.objects.filter(pk=card.pk).update(
        handed_in_at=None, handed_in_device=None, handed_in_seq=None
    )
    (taken, _) = send(
        card.judge.devices.get(),
        [mark(card.entry, "hn_lines", 1), hand_in(card.entry)],
        at=AT + timedelta(minutes=5),
    )
    assert taken.status == "applied"
    assert verify(show)[-1].endswith("those that the events give.")


def test_what_a_second_officer_stood_by_explains_a_mark(show):
    found = CardMark.objects.filter(criterion__code="hn_lines").earliest("pk")
    asked = Question.objects.create(
        judge=found.card.judge, entry=found.card.entry, criterion=found.criterion,
        value=found.value, expected=8, statistic=4.0, threshold=3.5, alpha=0.05, asked_at=AT,
        state="corrected", answer=2, answered_at=AT, proposed_by=office_of(show),
    )  # fmt: skip
    CardMark.objects.filter(pk=found.pk).update(value=2, version=2, device=None, event=None, seq=0)
    Result.objects.all().delete()
    assert verify(show)[-1].endswith("those that the events give.")
    Question.objects.filter(pk=asked.pk).update(answer=3)
    assert len(verify(show)) == 2


def test_marks_taken_back_and_given_again_verify(show):
    other = build_show(slug="others")
    mark_everything(other, leave_out=[("J1", 4)])
    judge, entry = judge_of(other, "J1"), entry_of(other, 4)
    phone = judge.devices.first() or pair(judge)[0]
    for row, value in (("hn_lines", 3), ("hn_lines", 5)):
        send(phone, [mark(entry, row, value)])
    send(phone, [clear(entry, "hn_lines")])
    assert verify(other)[-1].endswith("those that the events give.")


def test_nothing_is_written(show):
    before = list(RoundEvent.objects.values_list("pk", "applied")), Result.objects.count()
    verify(show)
    assert before == (list(RoundEvent.objects.values_list("pk", "applied")), Result.objects.count())


def test_every_version_of_rules_but_this_one_is_not_verified(show):
    Result.objects.filter(show_class=class_of(show)).update(rule_version="2")
    assert verify(show)[0] == (
        "Trail wagon, version 1: it was computed by rule version 2; this program knows version 5 "
        "and cannot verify it."
    )
