"""The running day at the office's doors: who may, what stands there, what the buttons do."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from unittest import mock

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from judging.models import Announcement, Judge, Pause, PlanJob, Visit
from judging.queries.outlook import outlook
from judging.queries.running_day import running_day
from judging.queries.visit_times import visit_times
from tests.judged_show import (
    OPENS_AT,
    build_show,
    card_events,
    entry_of,
    judge_of,
    mark_everything,
    office_of,
    open_window,
    pair,
    send,
    steward_of,
)
from tests.people import PersonFactory
from tests.remembered import remembered
from tests.round_events import opened

pytestmark = pytest.mark.django_db


def minute(m):
    return OPENS_AT + timedelta(minutes=m)


@pytest.fixture
def clock(monkeypatch):
    """The moment the pages take place at."""

    class Clock:
        at = minute(20)

    monkeypatch.setattr("django.utils.timezone.now", lambda: Clock.at)
    return Clock


@pytest.fixture
@remembered
def show():
    show = build_show(n_entries=6)
    open_window(show)
    return show


@pytest.fixture
def page(show, client, clock):
    """The office's board; a call sends a form."""

    class Page:
        url = reverse("judging:day", args=[show.slug])

        def get(self, who=None):
            client.force_login(who or office_of(show))
            return client.get(self.url)

        def text(self):
            return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", self.get().content.decode()))

        def send(self, who=None, **data):
            client.force_login(who or office_of(show))
            with mock.patch("judging.web.day.queue_plan") as queued:
                answer = client.post(self.url, data)
            self.queued = queued.called
            return answer

    return Page()


def test_who_may_look_and_who_may_change(show, page, client):
    assert page.get().status_code == 200
    assert page.get(steward_of(show)).status_code == 200
    assert page.get(judge_of(show, "J1").person).status_code == 403
    assert page.get(entry_of(show, 1).exhibitor).status_code == 403
    assert page.get(PersonFactory.create()).status_code == 404
    client.logout()
    assert client.get(page.url).status_code == 404
    assert page.send(steward_of(show), do="drift").status_code == 403
    assert page.send(PersonFactory.create(), do="drift").status_code == 404
    assert 'name="do"' not in page.get(steward_of(show)).content.decode()


def test_before_publication_the_page_says_what_comes_first(client, clock):
    show = build_show(slug="unpublished")
    client.force_login(office_of(show))
    answer = client.get(reverse("judging:day", args=[show.slug]))
    assert "Publish the window first" in answer.content.decode()


def test_every_judge_with_wagon_since_next_and_last_word(show, page):
    judge = judge_of(show, "J1")
    own = [time for time in visit_times(show) if time.judge_id == judge.pk]
    entries = {v.entry_id: v.entry for v in Visit.objects.select_related("entry")}
    device, _ = pair(judge)
    first, second = own[0], own[1]
    begun = first.starts_at + timedelta(minutes=6)
    send(device, [{**opened(entries[first.entry_id]), "at": begun.isoformat()}], at=begun)
    late = page.text()
    assert f"at wagon {entries[first.entry_id].called}" in late
    assert begun.astimezone(show.tz).strftime("since %-I:%M AM") in late
    assert str(entries[second.entry_id]) in late
    assert "6 min behind" in late
    assert "minutes ago" in late
    assert f"0 of {Visit.objects.count()} visits done" in late


def test_the_numbers_of_wagons_nobody_has_seen_yet_stand_there(show, page, clock):
    found = running_day(show, at=clock.at)
    assert [entry.number for entry in found.unseen] == [1, 2, 3, 4, 5, 6]
    judge = judge_of(show, "J1")
    first = next(time for time in visit_times(show) if time.judge_id == judge.pk)
    device, _ = pair(judge)
    entry = Visit.objects.get(judge=judge, entry=first.entry_id).entry
    send(device, [opened(entry)], at=minute(5))
    left = [n for n in range(1, 7) if n != entry.number]
    assert [entry.number for entry in running_day(show, at=clock.at).unseen] == left
    assert f"Not seen yet {', '.join(map(str, left))} " in page.text()


def test_a_day_that_is_over_says_so(show, page, clock):
    mark_everything(show, at=minute(100))
    clock.at = minute(101)
    said = page.text()
    assert "run the checks" in said
    assert "every wagon has been visited" in said


def test_what_happened_is_shown_as_a_difference_and_announced(show, page):
    judge = judge_of(show, "J2")
    answer = page.send(
        do="late", **{"late-judge": judge.pk, "late-minutes": "25", "late-reason": "thrown shoe"}
    )
    assert answer.status_code == 302
    assert page.queued
    job = PlanJob.objects.get()
    shown = page.text()
    assert "J2 is held up by 25 minutes: thrown shoe." in shown
    assert "Just push" in shown
    assert "is being looked for" in shown
    page.send(do="announce", job=job.pk, way="push")
    told = Announcement.objects.first()
    assert told is not None
    assert told.number == 2
    after = page.text()
    assert f"{len(told.changes)} visit" in after
    assert "thrown shoe" in after
    assert "Nothing waits to be announced." in after


def test_times_left_alone_stay(show, page):
    before = list(Visit.objects.order_by("pk").values_list("starts_at", flat=True))
    page.send(do="late", **{"late-judge": judge_of(show, "J2").pk, "late-minutes": "25"})
    page.send(do="leave", job=PlanJob.objects.get().pk)
    assert list(Visit.objects.order_by("pk").values_list("starts_at", flat=True)) == before
    assert "Left. The announced times stand." in page.text()


def test_faults_stand_beside_the_form_and_change_nothing(show, page):
    for data, words in (
        ({"do": "late", "late-minutes": "0"}, "At least one minute."),
        ({"do": "stop", "stop-begins": "10:00", "stop-ends": "09:00"}, "It ends after it begins."),
        ({"do": "stop", "stop-begins": "7:00", "stop-ends": "7:30"}, "A time still to come"),
        ({"do": "gone", "gone-judge": judge_of(show, "J1").pk}, "Why does the judge leave?"),
    ):
        answer = page.send(**data)
        assert answer.status_code == 422, data
        assert words in answer.content.decode()
    assert not PlanJob.objects.exists()
    assert not Pause.objects.exists()
    assert not Judge.objects.filter(left_at__isnull=False).exists()


def test_a_job_of_another_show_is_not_taken(show, page):
    other = build_show(slug="other-ground")
    job = PlanJob.objects.create(show=other, kind="replan", asked_at=minute(0))
    page.send(do="announce", job=job.pk, way="push")
    assert Announcement.objects.filter(show=other).count() == 0
    assert "no longer there" in page.text()
    for odd in ("", "x", "9" * 40, "-1"):
        assert page.send(do="announce", job=odd, way="push").status_code == 302


def test_times_on_the_forms_are_the_shows_own(show, page):
    page.send(do="stop", **{"stop-begins": "08:30", "stop-ends": "08:45", "stop-reason": "hail"})
    pause = Pause.objects.get()
    assert (pause.starts_at, pause.ends_at) == (minute(30), minute(45))


def test_the_exhibitor_reads_the_changed_time_with_reason_and_hour(show, page, client):
    page.send(
        do="late", **{"late-judge": judge_of(show, "J2").pk, "late-minutes": "25",
                      "late-reason": "thrown shoe"},
    )  # fmt: skip
    page.send(do="announce", job=PlanJob.objects.get().pk, way="push")
    told = Announcement.objects.first()
    assert told is not None
    touched = {line["entry"] for line in told.changes}
    for number in range(1, 7):
        entry = entry_of(show, number)
        client.force_login(entry.exhibitor)
        text = client.get(reverse("reports:my-entry", args=[entry.pk])).content.decode()
        assert ("Times changed" in text) == (entry.pk in touched)
        assert ("thrown shoe" in text) == (entry.pk in touched)


def test_the_same_number_of_queries_for_any_number_of_wagons(clock, client):
    counts = []
    for slug, n in (("few-wagons", 3), ("many-wagons", 9)):
        show = build_show(slug=slug, n_entries=n)
        open_window(show)
        device, _ = pair(judge_of(show, "J1"))
        first = visit_times(show)[0]
        entry = Visit.objects.filter(entry=first.entry_id)[0].entry
        send(device, card_events(judge_of(show, "J1"), entry), at=minute(9))
        client.force_login(office_of(show))
        url = reverse("judging:day", args=[slug])
        client.get(url)
        with CaptureQueriesContext(connection) as seen:
            assert client.get(url).status_code == 200
        counts.append(len(seen))
    assert counts[0] == counts[1]


def test_nothing_on_the_page_breaks_the_content_policy(show, page):
    page.send(do="late", **{"late-judge": judge_of(show, "J2").pk, "late-minutes": "25"})
    text = page.get().content.decode()
    assert not re.search(r"<[^>]+\s(style|on\w+)=", text)


def test_instants_of_the_board_are_aware(show, clock):
    found = running_day(show, at=clock.at)
    assert isinstance(found.closes_at, datetime)
    assert found.closes_at == minute(show.judging_minutes)


def test_the_expected_end_follows_what_the_visits_take(show, page, clock):
    before = outlook(show, running_day(show, at=minute(0)), at=minute(0))
    assert before is not None
    assert "no visit is over yet" in before.learned
    assert before.low_at < before.likely_at < before.high_at
    assert 0 < before.chance <= 1
    slow = [time for time in visit_times(show) if time.starts_at < minute(9)]
    for time in slow:
        visit = Visit.objects.get(judge=time.judge_id, entry=time.entry_id)
        device = visit.judge.devices.first() or pair(visit.judge)[0]
        length = 2 * (time.ends_at - time.starts_at)
        events = [
            {**opened(visit.entry), "at": time.starts_at.isoformat()},
            *(
                {**event, "at": (time.starts_at + length).isoformat()}
                for event in card_events(visit.judge, visit.entry)
            ),
        ]
        send(device, events, at=minute(39))
    clock.at = minute(40)
    after = outlook(show, running_day(show, at=clock.at), at=clock.at)
    assert after is not None
    assert after.likely_at > before.likely_at + timedelta(minutes=5)
    assert "took" in after.learned
    shown = page.text()
    assert after.likely_at.astimezone(show.tz).strftime("%-I:%M AM") in shown
    assert f"{after.chance_words} inside the window" in shown
