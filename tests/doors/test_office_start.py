"""The office's start page: what is next, the alarms on top, and who may read it."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.html import escape

from entries.actions.decide_entry import put_on_wait_list, scratch_entry
from entries.models import Entry
from judging.actions.ask_questions import ask_questions
from judging.actions.pair_device import shut_out_device
from judging.models import SafetyConcern
from judging.queries.stages import standing_of
from showrun.shows.models import Person, Show
from tests.judged_show import (
    AT,
    add_entries,
    build_show,
    concern,
    draw_panel,
    entry_of,
    judge_of,
    mark_everything,
    office_of,
    open_window,
    pair,
    release_results,
    send,
    steward_of,
)

pytestmark = pytest.mark.django_db


def start(show: Show) -> str:
    return reverse("reports:office", args=[show.slug])


def page(client: Client, show: Show) -> str:
    client.force_login(office_of(show))
    answer = client.get(start(show))
    assert answer.status_code == 200
    return answer.content.decode()


def next_words(text: str) -> str:
    """Return the one big line and the words of its button."""
    found = re.search(r'<h1>(.*?)</h1>\s*<p><a class="act" href="[^"]+">(.*?)<', text)
    assert found
    return f"{found[1]} | {found[2]}"


def states(text: str) -> dict[str, str]:
    """Return each stage's state by its name."""
    rows = re.findall(r'<li class="(done|now|later|optional)".*?<strong>(.*?)</strong>', text)
    return {re.sub(r"<[^>]+>", "", name): state for state, name in rows}


def test_the_next_step_moves_on_with_the_day(client: Client):
    show = build_show(judges_per_section=3)
    assert "The panel is not drawn yet. | Draw the panel" in next_words(page(client, show))
    draw_panel(show)
    assert "not sized" in next_words(page(client, show))
    open_window(show, publish=False)
    assert next_words(page(client, show)).endswith("| Publish the window")
    open_window(show)
    assert next_words(page(client, show)).startswith("0 of 4 judges have a paired phone.")
    for code in ("J1", "J2", "J3", "J4"):
        pair(judge_of(show, code))
    assert "cards are in" in next_words(page(client, show))
    mark_everything(show)
    assert "have not run since the last card" in next_words(page(client, show))
    ask_questions(show=show, by=office_of(show), at=AT)
    assert "Compute the results" in next_words(page(client, show))
    release_results(show)
    text = page(client, show)
    assert next_words(text).endswith("| Make papers")
    assert states(text)["Results released"] == "done"
    assert list(states(text).values()).count("now") == 1


def test_all_thirteen_stages_are_listed_in_order(client: Client):
    found = states(page(client, build_show()))
    assert list(found)[:3] == ["Entries confirmed", "Scorecard", "Judges engaged"]
    assert list(found)[-1] == "Papers made"
    assert found["Norming"] == "optional"
    assert len(found) == 13


def test_a_section_short_of_judges_is_named(client: Client):
    show = build_show(n_judges=1)
    assert "Running gear needs 2 judges and has 1." in next_words(page(client, show))


def test_a_wagon_confirmed_after_the_draw_asks_for_another_draw(client: Client):
    show = build_show(n_entries=3)
    draw_panel(show)
    add_entries(show, 1)
    assert "6 seats are missing since the draw" in next_words(page(client, show))


def test_a_scratched_wagon_owes_no_card():
    show = build_show(n_entries=3, kin=False)
    mark_everything(show, leave_out=[(code, 3) for code in ("J1", "J2", "J3", "J4")])
    before = standing_of(show, hands_needed=2)
    assert before.cards_in < before.cards_expected
    scratch_entry(entry=entry_of(show, 3), reason="Lame mule.", by=office_of(show), at=AT)
    after = standing_of(show, hands_needed=2)
    assert after.cards_in == after.cards_expected == before.cards_in


def raise_concern(show: Show, degree: str, text: str) -> SafetyConcern:
    open_window(show)
    judge = judge_of(show, "J1")
    device, _ = pair(judge)
    seat = judge.seats.select_related("entry").first()
    assert seat
    send(device, [concern(seat.entry, degree, text)])
    return SafetyConcern.objects.latest("id")


def test_an_unseen_concern_stands_above_everything_until_seen(client: Client):
    show = build_show()
    raised = raise_concern(show, "stop", "Near line worn through at the bit buckle.")
    text = page(client, show)
    assert text.index("Stop now: wagon") < text.index("<h1>")
    assert escape(raised.entry.called) in text
    assert "Near line worn through" in text
    answer: Any = client.post(
        reverse("judging:see-concern", args=[raised.pk]), {"back": start(show)}
    )
    assert answer.url == start(show)
    raised.refresh_from_db()
    assert raised.seen_by == office_of(show)
    assert "Near line worn through" not in page(client, show)


def test_the_gravest_concern_comes_first(client: Client):
    show = build_show()
    open_window(show)
    judge = judge_of(show, "J1")
    device, _ = pair(judge)
    seat = judge.seats.select_related("entry").first()
    assert seat
    send(device, [concern(seat.entry, d, f"A {d}.") for d in ("note", "mend", "stop")])
    text = page(client, show)
    assert text.index("A stop.") < text.index("A mend.") < text.index("A note.")


def test_a_concern_that_could_not_be_filed_is_an_alarm_too(client: Client):
    show = build_show()
    open_window(show)
    device, _ = pair(judge_of(show, "J1"))
    shut_out_device(device=device, by=office_of(show), at=AT, reason="lost")
    outcome = send(device, [concern(entry_of(show, 2), "stop", "Brake rod cracked.")])[0]
    assert outcome.status == "held"
    text = page(client, show)
    assert text.index("A safety concern could not be filed") < text.index("<h1>")
    assert "Brake rod cracked." in text


def test_entries_in_line_and_held_events_are_told(client: Client):
    show = build_show(n_entries=3)
    put_on_wait_list(entry=entry_of(show, 3), by=office_of(show), at=AT)
    text = page(client, show)
    assert "1 entry on the wait list</a>; 1 place is free." in text
    Entry.objects.filter(show=show, number=2).update(status="entered")
    assert "1 entry</a> not confirmed." in page(client, show)
    # A place on offer is held for who may take it up.
    Entry.objects.filter(show=show, number=2).update(status="offered", take_up_by=AT)
    assert "; 1 place is free." in page(client, show)


def test_a_quiet_show_has_no_alarm(client: Client):
    text = page(client, build_show())
    assert "say-bad" not in text
    assert "Waits for the office" not in text


def test_the_steward_reads_it_too(client: Client):
    show = build_show()
    client.force_login(steward_of(show))
    assert client.get(start(show)).status_code == 200


@pytest.mark.parametrize("part", ["exhibitor", "judge"])
def test_people_of_the_show_without_the_office_are_refused(client: Client, part: str):
    show = build_show()
    person = entry_of(show).exhibitor if part == "exhibitor" else judge_of(show).person
    client.force_login(person)
    answer = client.get(start(show))
    assert answer.status_code == 403
    assert "Panel drawn" not in answer.content.decode()


def test_strangers_and_other_shows_learn_nothing(client: Client, stranger: Person):
    show, other = build_show(), build_show(slug="elsewhere")
    assert client.get(start(show)).status_code == 404
    for person in (stranger, office_of(other)):
        client.force_login(person)
        assert client.get(start(show)).status_code == 404
    assert client.get("/shows/no-such-show/office/").status_code == 404


def test_it_answers_reading_only(client: Client):
    show = build_show()
    client.force_login(office_of(show))
    assert client.post(start(show)).status_code == 405


def test_the_number_of_queries_does_not_grow_with_the_show(client: Client):
    counts = []
    for slug, n_entries in (("small", 3), ("large", 9)):
        show = build_show(slug=slug, n_entries=n_entries, judges_per_section=3, judging_minutes=900)
        open_window(show)
        mark_everything(show)
        release_results(show)
        client.force_login(office_of(show))
        client.get(start(show))
        with CaptureQueriesContext(connection) as queries:
            assert client.get(start(show)).status_code == 200
        counts.append(len(queries))
    assert counts[0] == counts[1]
