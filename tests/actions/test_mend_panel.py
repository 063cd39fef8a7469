"""The day does not go to plan: a late wagon, a conflict found late, announced times kept."""

from __future__ import annotations

from collections import Counter
from datetime import datetime, timedelta

import pytest

from entries.actions.decide_entry import scratch_entry
from judging.actions.compute_result import compute_result
from judging.actions.engage_judge import declare_conflict, judge_leaves
from judging.actions.mend_panel import mend_panel
from judging.actions.open_window import publish_window, set_hours, withdraw_window
from judging.actions.seat_panel import seat_panel
from judging.actions.set_day import add_pause, set_day
from judging.models import Judge, Seat, Visit, Window
from judging.queries.panel import seats_of
from judging.queries.progress import progress_of
from showrun.errors import Conflict, InvalidInput, NotYet
from showrun.shows.models import AuditEntry
from tests.judged_show import (
    AT,
    BEFORE,
    add_entries,
    build_show,
    card_events,
    class_of,
    draw_panel,
    entry_of,
    judge_of,
    mark_everything,
    office_of,
    open_window,
    pair,
    send,
)
from tests.remembered import remembered

pytestmark = pytest.mark.django_db


@pytest.fixture
@remembered
def show():
    show = build_show()
    open_window(show)
    return show


def times(show):
    return {(v.judge_id, v.entry_id): (v.starts_at, v.ends_at) for v in Visit.objects.all()}


def assert_nobody_in_two_places():
    for who in ("judge_id", "entry_id"):
        spans: dict[int, datetime] = {}
        for visit in Visit.objects.order_by("starts_at"):
            last = spans.get(getattr(visit, who))
            assert last is None or last <= visit.starts_at
            spans[getattr(visit, who)] = visit.ends_at


def test_a_late_wagon_is_seated_without_moving_an_announced_time(show):
    before = times(show)
    (late,) = add_entries(show, 1)
    with pytest.raises(Conflict, match=r"published.*withdraw"):
        seat_panel(show=show, seed=1, by=office_of(show), at=AT)
    mended = mend_panel(show=show, by=office_of(show), at=AT, reason="broken axle on the road")
    assert (mended.dropped, mended.added) == (0, 6)
    after = times(show)
    assert {k: v for k, v in after.items() if k in before} == before
    assert {entry for _, entry in set(after) - set(before)} == {late.pk}
    assert_nobody_in_two_places()
    window = Window.objects.get()
    assert max(end for _, end in after.values()) == max(v.ends_at for v in Visit.objects.all())
    assert str(window.needed_minutes) in window.advice[0]
    mark_everything(show)
    assert (
        compute_result(show_class=class_of(show), by=office_of(show), at=AT).placings.count() == 6
    )


@pytest.mark.parametrize("style", ["rotating", "walking"])
def test_late_visits_keep_clear_of_a_pause_after_the_others(style):
    show = build_show()
    draw_panel(show)
    set_day(show=show, rules={"style": style}, by=office_of(show), at=BEFORE)
    open_window(show)
    before = times(show)
    last = max(end for _, end in before.values())
    pause = (last + timedelta(minutes=3), last + timedelta(minutes=30))
    add_pause(
        show=show, starts_at=pause[0], ends_at=pause[1], why="Cooks' meeting.",
        by=office_of(show), at=AT,
    )  # fmt: skip
    (late,) = add_entries(show, 1)
    mend_panel(show=show, by=office_of(show), at=AT, reason="broken axle on the road")
    after = times(show)
    new = [span for (_, entry), span in after.items() if entry == late.pk]
    assert new
    assert all(end <= pause[0] or start >= pause[1] for start, end in new)
    assert {k: v for k, v in after.items() if k in before} == before
    # A panel that walks together comes together to a late wagon too.
    assert len({start for start, _ in new}) == (1 if style == "walking" else len(new))


def test_figures_reckoned_for_the_first_plan_are_not_kept_for_a_mended_one(show):
    withdraw_window(show=show, reason="rain", by=office_of(show), at=AT)
    assert open_window(show, publish=False).likely_minutes
    add_entries(show, 1)
    mend_panel(show=show, by=office_of(show), at=AT, reason="broken axle on the road")
    window = Window.objects.get()
    assert (window.likely_minutes, window.chance) == (None, None)


def test_a_conflict_found_late_stops_the_result_until_the_panel_is_mended(show):
    mark_everything(show)
    seat = Seat.objects.filter(judge=judge_of(show, "J1")).earliest("pk")
    declare_conflict(
        judge=seat.judge, entry=seat.entry, kind="guest", reason="", by=office_of(show), at=AT
    )
    with pytest.raises(NotYet, match="conflict"):
        compute_result(show_class=class_of(show), by=office_of(show), at=AT)
    mended = mend_panel(show=show, by=office_of(show), at=AT, reason="stayed with the crew")
    assert mended.dropped == mended.added > 0
    assert not Seat.objects.filter(judge=seat.judge, entry=seat.entry).exists()
    with pytest.raises(NotYet, match="incomplete"):
        compute_result(show_class=class_of(show), by=office_of(show), at=AT)


def test_a_scratched_wagon_is_expected_no_more(show):
    cards = progress_of(show).cards_expected
    gone = entry_of(show, 3)
    visits = Visit.objects.filter(entry=gone).count()
    scratch_entry(entry=gone, by=office_of(show), at=AT, reason="lame wheeler")
    assert progress_of(show).cards_expected == cards - visits
    seats = Seat.objects.filter(entry=gone).count()
    mended = mend_panel(show=show, by=office_of(show), at=AT)
    assert mended.added == mended.dropped == 0
    assert not Visit.objects.filter(entry=gone).exists()
    # They give what phones still bring a card to lie on; nobody is expected there.
    assert Seat.objects.filter(entry=gone).count() == seats > 0
    assert not seats_of(show).filter(entry=gone).exists()
    mark_everything(show)
    assert (
        compute_result(show_class=class_of(show), by=office_of(show), at=AT).placings.count() == 4
    )


def test_announced_times_are_taken_back_with_a_reason_and_only_before_judging(show):
    with pytest.raises(InvalidInput):
        withdraw_window(show=show, reason=" ", by=office_of(show), at=AT)
    withdraw_window(show=show, reason="storm", by=office_of(show), at=AT)
    assert not Window.objects.exists()
    assert not Visit.objects.exists()
    seat_panel(show=show, seed=2, by=office_of(show), at=AT)
    open_window(show)
    mark_everything(show)
    with pytest.raises(Conflict, match="begun"):
        withdraw_window(show=show, reason="storm", by=office_of(show), at=AT)
    with pytest.raises(Conflict, match="begun"):
        seat_panel(show=show, seed=3, by=office_of(show), at=AT)


def test_a_judge_who_fell_ill_keeps_the_cards_handed_in_and_nothing_else(show):
    ill = judge_of(show, "J1")
    first, *_ = list(Seat.objects.filter(judge=ill).order_by("entry__number"))
    device, _ = pair(ill)
    send(device, card_events(ill, first.entry))
    done = set(Seat.objects.filter(judge=ill, entry=first.entry).values_list("pk", flat=True))
    judge_leaves(judge=ill, reason="heat", by=office_of(show), at=AT)
    mended = mend_panel(show=show, by=office_of(show), at=AT, reason="J1 fell ill")
    assert mended.dropped == mended.added > 0
    assert set(Seat.objects.filter(judge=ill).values_list("pk", flat=True)) == done
    assert_nobody_in_two_places()
    mark_everything(show)
    assert compute_result(show_class=class_of(show), by=office_of(show), at=AT)


def test_hours_are_changed_before_the_times_are_announced_and_not_after(show):
    later = show.judging_starts_at + timedelta(minutes=30)
    with pytest.raises(Conflict, match="published"):
        set_hours(show=show, opens_at=later, minutes=200, by=office_of(show), at=AT)
    withdraw_window(show=show, reason="rain", by=office_of(show), at=AT)
    with pytest.raises(InvalidInput, match="outside"):
        set_hours(
            show=show, opens_at=later + timedelta(days=9), minutes=200, by=office_of(show), at=AT
        )
    set_hours(show=show, opens_at=later, minutes=200, by=office_of(show), at=AT)
    window = open_window(show)
    assert (window.opens_at, window.available_minutes) == (later, 200)


def test_a_window_sized_before_the_panel_changed_is_not_published(show):
    withdraw_window(show=show, reason="rain", by=office_of(show), at=AT)
    open_window(show, publish=False)
    scratch_entry(entry=entry_of(show, 3), by=office_of(show), at=AT, reason="lame wheeler")
    with pytest.raises(NotYet, match="Size it again"):
        publish_window(show=show, by=office_of(show), at=AT)


def test_one_seat_is_handed_on_where_nobody_free_may_sit(show):
    """J1 may not see wagon 1; only J3, whose seats are full, may: J3 goes there, another gives."""
    withdraw_window(show=show, reason="rain", by=office_of(show), at=AT)
    draw_panel(show)
    seats = {code: judge_of(show, code).seats.count() for code in ("J1", "J2", "J3", "J4")}
    Judge.objects.filter(show=show, code="J3").update(max_seats=seats["J3"])
    Judge.objects.filter(show=show, code="J4").update(max_seats=seats["J4"])
    barred = judge_of(show, "J1")
    before = set(Seat.objects.values_list("judge__code", "entry__number", "section__code"))
    lost = {seat for seat in before if seat[:2] == ("J1", 1)}
    assert lost
    declare_conflict(
        judge=barred, entry=entry_of(show, 1), kind="guest", reason="", by=office_of(show), at=AT
    )
    mended = mend_panel(show=show, by=office_of(show), at=AT, reason="J1 stayed with the crew")
    after = set(Seat.objects.values_list("judge__code", "entry__number", "section__code"))
    # J2 is kin to wagon 1, so J3 and J4 take it over and hand on as many seats elsewhere.
    assert mended.handed_on == len(lost)
    assert mended.added == mended.dropped == 2 * len(lost)
    assert len(before - after) == 2 * len(lost)
    loads = Counter(code for code, *_ in after)
    assert (loads["J3"], loads["J4"]) == (seats["J3"], seats["J4"])
    changes = AuditEntry.objects.get(show=show, verb="mended").after["changes"]
    assert {line["left"] for line in changes if line["entry"].startswith("1.")} == {"J1"}
    assert sum(bool(line["came"]) for line in changes) == 2 * len(lost)


def test_a_card_in_work_is_not_handed_on(show):
    withdraw_window(show=show, reason="rain", by=office_of(show), at=AT)
    draw_panel(show)
    for code in ("J3", "J4"):
        full = judge_of(show, code)
        Judge.objects.filter(pk=full.pk).update(max_seats=full.seats.count())
    mark_everything(show, leave_out=[("J1", 1)])
    declare_conflict(
        judge=judge_of(show, "J1"),
        entry=entry_of(show, 1),
        kind="guest",
        reason="",
        by=office_of(show),
        at=AT,
    )
    before = set(Seat.objects.values_list("pk", flat=True))
    with pytest.raises(Conflict, match="short"):
        mend_panel(show=show, by=office_of(show), at=AT, reason="J1 stayed with the crew")
    assert set(Seat.objects.values_list("pk", flat=True)) == before
