"""Panel and window, as the office sets the judging up."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.contrib.messages import get_messages
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from entries.actions.decide_entry import scratch_entry
from judging.actions.engage_judge import declare_conflict
from judging.models import Seat, Window
from judging.web.panel_view import panel_view
from judging.web.window_view import span
from showrun.shows.models import Person, Show
from tests.judged_show import (
    BEFORE,
    add_entries,
    add_judges,
    build_show,
    draw_panel,
    entry_of,
    hand_in,
    judge_of,
    mark,
    mark_everything,
    office_of,
    open_window,
    pair,
    rows_of,
    send,
    steward_of,
)

pytestmark = pytest.mark.django_db
PAGES = ("scorecard", "panel", "window")


@pytest.fixture
def show() -> Show:
    return build_show()


def as_person(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def address(name: str, show: Show) -> str:
    return reverse(f"judging:{name}", args=[show.slug])


def read(name: str, show: Show, query: str = "") -> str:
    answer = as_person(office_of(show)).get(address(name, show) + query)
    assert answer.status_code == 200
    return answer.content.decode()


def press(name: str, show: Show, person: Person | None = None, **fields: Any) -> Any:
    return as_person(person or office_of(show)).post(address(name, show), fields)


def said(answer: Any) -> str:
    return " ".join(str(message) for message in get_messages(answer.wsgi_request))


def bar(show: Show, code: str, number: int) -> None:
    declare_conflict(
        judge=judge_of(show, code),
        entry=entry_of(show, number),
        kind="same_stable",
        reason="Their teams winter together.",
        by=office_of(show),
        at=BEFORE,
    )


# --- Who may -------------------------------------------------------------------------------


@pytest.mark.parametrize("name", PAGES)
def test_the_pages_are_the_offices(show: Show, name: str, stranger: Person):
    url = address(name, show)
    assert as_person(office_of(show)).get(url).status_code == 200
    assert as_person(steward_of(show)).get(url).status_code == 200
    assert as_person(entry_of(show).exhibitor).get(url).status_code == 403
    assert as_person(judge_of(show).person).get(url).status_code == 403
    assert as_person(stranger).get(url).status_code == 404
    assert Client().get(url).status_code == 404


def test_a_steward_neither_draws_nor_sizes(show: Show):
    assert press("panel", show, steward_of(show), do="draw", seed=1).status_code == 403
    assert not Seat.objects.exists()
    draw_panel(show)
    assert press("window", show, steward_of(show), do="size").status_code == 403
    assert not Window.objects.exists()
    text = as_person(steward_of(show)).get(address("panel", show)).content.decode()
    assert "Draw again" not in text


@pytest.mark.parametrize("name", PAGES)
def test_queries_do_not_grow_with_the_show(show: Show, name: str):
    def queries() -> int:
        client = as_person(office_of(show))
        with CaptureQueriesContext(connection) as asked:
            assert client.get(address(name, show)).status_code == 200
        return len(asked)

    open_window(show, publish=False)
    few = queries()
    add_entries(show, 7)
    add_judges(show, 2)
    draw_panel(show, seed=2)
    open_window(show, publish=False)
    assert Seat.objects.count() == 12 * 3 * 2
    assert queries() == few


# --- Panel ---------------------------------------------------------------------------------


def test_a_panel_is_drawn_and_shown_as_a_grid(show: Show):
    assert "Not drawn yet" in read("panel", show)
    answer = press("panel", show, do="draw", seed=7)
    assert answer.status_code == 302
    assert "30 seats, 7 to 8 for each judge" in said(answer)
    text = read("panel", show)
    seats = Seat.objects.filter(entry=entry_of(show, 1), section__code="camp_kit")
    codes = ", ".join(sorted(seat.judge.code for seat in seats.select_related("judge")))
    row = re.search(r"Patient Mule</th>(.*?)</tr>", text, re.S)
    assert row
    assert f'data-label="Camp kit">{codes}<' in row[1]
    assert 'data-label="Kept apart">J2<' in row[1]
    assert "with seed 7" in text
    assert 'value="7"' in text
    assert "sister-in-law" in text


def test_the_same_seed_draws_the_same_panel(show: Show):
    def seats() -> list[tuple[int, int, int]]:
        return sorted(Seat.objects.values_list("judge_id", "entry_id", "section_id"))

    press("panel", show, do="draw", seed=7)
    first = seats()
    press("panel", show, do="draw", seed=8)
    press("panel", show, do="draw", seed=7)
    assert seats() == first


@pytest.mark.parametrize("seed", ["", "seven", "-1", str(2**40)])
def test_a_seed_that_is_no_number_is_refused_and_kept(show: Show, seed: str):
    answer = press("panel", show, do="draw", seed=seed)
    assert answer.status_code == 422
    assert "The panel is not drawn yet" in answer.content.decode()
    assert f'value="{seed}"' in answer.content.decode() or not seed
    assert not Seat.objects.exists()


def test_loads_add_up(show: Show):
    draw_panel(show)
    view = panel_view(show)
    assert sum(load.seats for load in view.loads) == 30
    assert sum(load.minutes for load in view.loads) == 5 * 2 * (4 + 3 + 5)
    assert max(load.wagons for load in view.loads) <= 5


def test_a_draw_that_cannot_be_says_which_wagon_and_which_judges(show: Show):
    for code in ("J3", "J4"):
        bar(show, code, 1)
    answer = press("panel", show, do="draw", seed=1)
    text = answer.content.decode()
    assert answer.status_code == 409
    assert "The panel cannot be drawn like this" in text
    refusal = re.search(r"cannot be drawn like this</h2>(.*?)</div>", text, re.S)
    assert refusal
    assert "Running gear" in refusal[1]
    assert "wagon 1" in refusal[1]
    assert "Chidi Abara" in refusal[1]
    assert "1 look short" in refusal[1]
    assert refusal[1].count("look short") == refusal[1].count("<p>") - 1 == 3  # and a way out
    assert "Engage another judge" in text
    assert not Seat.objects.exists()


def test_judges_that_share_no_wagon_are_said_to_stand_apart(show: Show):
    draw_panel(show)
    Seat.objects.all().delete()
    section = judge_of(show).sections.get(code="harness")
    for number, codes in ((1, ("J1", "J3")), (2, ("J2", "J4"))):
        for code in codes:
            Seat.objects.create(
                judge=judge_of(show, code), entry=entry_of(show, number), section=section
            )
    assert "cannot be compared</span>; J1, J3 and J2, J4 share no wagon" in read("panel", show)
    Seat.objects.create(judge=judge_of(show, "J4"), entry=entry_of(show, 1), section=section)
    assert "cannot be compared" not in read("panel", show)


def test_a_panel_overtaken_by_events_says_by_which(show: Show):
    draw_panel(show)
    seat = judge_of(show, "J1").seats.select_related("entry").first()
    assert seat is not None
    assert "out of date" not in read("panel", show)
    bar(show, "J1", seat.entry.number or 0)
    scratch_entry(entry=entry_of(show, 4), by=office_of(show), at=BEFORE, reason="Axle broke.")
    add_entries(show, 1)
    text = read("panel", show)
    assert "The panel is out of date" in text
    assert f"Chidi Abara (J1) sits at {seat.entry.called} in spite of a conflict" in text
    assert "Quiet Anvil</th>" not in text
    assert "6 Wagon 6 lacks 6 looks." in text
    assert "2 missing" in text


def begin(show: Show) -> None:
    """Let J1 give a first mark."""
    judge = judge_of(show)
    seat = judge.seats.select_related("entry").first()
    assert seat is not None
    send(pair(judge)[0], [mark(seat.entry, rows_of(judge, seat.entry)[0].code, 7)])


def test_a_panel_is_mended_under_published_times(show: Show):
    window = open_window(show)
    seat = judge_of(show, "J3").seats.select_related("entry").first()
    assert seat is not None
    kept = set(window.visits.exclude(entry=seat.entry).values_list("judge", "entry", "starts_at"))
    bar(show, "J3", seat.entry.number or 0)
    assert "Mend the panel" in read("panel", show)
    answer = press("panel", show, do="mend", reason="J3 told us of the stable today.")
    assert answer.status_code == 302
    assert "The panel is mended" in said(answer)
    assert "out of date" not in read("panel", show)
    assert not Seat.objects.filter(judge=judge_of(show, "J3"), entry=seat.entry).exists()
    times = set(window.visits.values_list("judge", "entry", "starts_at"))
    assert kept <= times
    assert "is not the one this window was sized to" not in read("window", show)


def test_a_panel_is_not_mended_without_saying_why(show: Show):
    open_window(show)
    answer = press("panel", show, do="mend", reason=" ")
    assert answer.status_code == 422
    assert "Say why; exhibitors and judges will ask." in answer.content.decode()


def test_a_wish_the_panel_does_not_know_is_refused(show: Show):
    assert press("panel", show, do="shuffle").status_code == 422
    assert not Seat.objects.exists()


def test_no_panel_is_drawn_over_cards_in_work(show: Show):
    draw_panel(show)
    begin(show)
    before = set(Seat.objects.values_list("pk", flat=True))
    answer = press("panel", show, do="draw", seed=2)
    assert answer.status_code == 409
    assert "Judging has begun" in answer.content.decode()
    assert set(Seat.objects.values_list("pk", flat=True)) == before


def test_no_panel_is_drawn_under_published_times(show: Show):
    open_window(show)
    answer = press("panel", show, do="draw", seed=2)
    assert answer.status_code == 409
    assert "times are published" in answer.content.decode()
    window = Window.objects.get(show=show)
    assert window.visits.count() == Seat.objects.values("judge", "entry").distinct().count()


def test_a_panel_without_judges_says_so():
    show = build_show(slug="nobody", n_judges=0)
    answer = press("panel", show, do="draw", seed=1)
    assert answer.status_code == 409
    assert "A panel needs confirmed entries and engaged judges." in answer.content.decode()


# --- Window --------------------------------------------------------------------------------


def test_a_window_needs_a_panel(show: Show):
    text = read("window", show)
    assert "Draw the panel first" in text
    assert 'value="size"' not in text
    answer = press("window", show, do="size")
    assert answer.status_code == 302
    assert "Draw the panel first" in said(answer)


def test_a_window_is_sized_published_and_then_stands(show: Show):
    draw_panel(show)
    assert "It fits." in said(press("window", show, do="size"))
    window = Window.objects.get(show=show)
    text = read("window", show)
    assert span(window.needed_minutes) in text
    assert "5 h, until 1:00 PM" in text
    assert 'value="publish"' in text
    assert "are published" in said(press("window", show, do="publish"))
    window.refresh_from_db()
    assert window.published_at is not None
    text = read("window", show)
    assert "Times published" in text
    assert 'value="size"' not in text
    assert "announced times are not drawn again" in said(press("window", show, do="size"))


def test_the_timetables_hold_every_visit_once_each(show: Show):
    window = open_window(show)
    text = read("window", show)
    by_wagon, by_judge = text.split("<h2>By judge</h2>")
    for visit in window.visits.select_related("judge", "entry"):
        ends = (visit.starts_at, visit.ends_at)
        time = "–".join(f"{end.astimezone(show.tz):%-I:%M}" for end in ends)
        row = re.search(rf"{visit.entry.wagon_name}</th>(.*?)</tr>", by_wagon, re.S)
        assert row
        assert f'data-label="{visit.judge.code}" class="num">{time}<' in row[1]
        day = re.search(rf"\({visit.judge.code}\), \d visits(.*?)</table>", by_judge, re.S)
        assert day
        line = re.search(rf">{time}</th><td>{visit.entry}<small>(.*?)</small>", day[1])
        assert line
        assert line[1]


def test_a_window_that_is_short_says_by_how_much_and_is_not_published():
    show = build_show(slug="short", judging_minutes=20)
    window = open_window(show, publish=False)
    assert not window.fits
    text = read("window", show)
    assert f"{span(window.needed_minutes - 20)} short" in text
    assert "Ways out" in text
    assert window.advice[1] in text
    assert 'value="publish"' not in text
    assert "Take one of the ways out" in said(press("window", show, do="publish"))
    window.refresh_from_db()
    assert window.published_at is None


def test_drawing_again_takes_the_window_sized_to_the_old_panel_away(show: Show):
    open_window(show, publish=False)
    press("panel", show, do="draw", seed=9)
    assert "size it first" in said(press("window", show, do="publish"))
    assert "Not sized yet" in read("window", show)


def test_a_window_overtaken_by_a_scratch_is_not_published(show: Show):
    window = open_window(show, publish=False)
    scratch_entry(entry=entry_of(show, 4), by=office_of(show), at=BEFORE, reason="Axle broke.")
    text = read("window", show)
    assert "The panel is not the one this window was sized to" in text
    assert 'value="publish"' not in text
    assert "Size it again first" in said(press("window", show, do="publish"))
    window.refresh_from_db()
    assert window.published_at is None


def test_published_times_are_withdrawn_with_a_reason_while_nobody_has_begun(show: Show):
    open_window(show)
    assert "Withdraw the times" in read("window", show)
    assert "Say why" in said(press("window", show, do="withdraw", reason=" "))
    assert Window.objects.filter(show=show).exists()
    said_then = said(press("window", show, do="withdraw", reason="Storm until ten."))
    assert "taken back" in said_then
    assert not Window.objects.filter(show=show).exists()


def test_times_are_not_withdrawn_once_a_card_is_begun(show: Show):
    open_window(show)
    begin(show)
    assert "Withdraw the times" not in read("window", show)
    assert "Judging has begun" in said(press("window", show, do="withdraw", reason="Storm."))
    assert Window.objects.filter(show=show).exists()


def test_a_wish_the_window_does_not_know_changes_nothing(show: Show):
    draw_panel(show)
    assert "choose one of them" in said(press("window", show, do="open"))
    assert not Window.objects.exists()


@pytest.mark.parametrize(
    ("minutes", "words"), [(0, "0 min"), (52, "52 min"), (60, "1 h"), (252, "4 h 12 min")]
)
def test_minutes_are_said_in_hours(minutes: int, words: str):
    assert span(minutes) == words


def test_the_pages_stand_after_judging(show: Show):
    open_window(show)
    mark_everything(show)
    device, _ = pair(judge_of(show))
    send(device, [hand_in(entry_of(show, 2))])
    for name in PAGES:
        assert read(name, show)
