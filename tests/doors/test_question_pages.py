"""Questions to judges and the record, as the office uses them."""

from __future__ import annotations

from typing import Any

import pytest
from django.contrib.messages import get_messages
from django.test import Client
from django.urls import reverse

from entries.models import Entry
from judging.models import CardMark, Criterion, Judge, Question
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show
from tests.judged_show import (
    AT,
    build_show,
    card_events,
    fair,
    judge_of,
    mark_everything,
    office_of,
    open_window,
    pair,
    send,
    steward_of,
)

pytestmark = pytest.mark.django_db


def address(name: str, show: Show) -> str:
    return reverse(f"judging:{name}", args=[show.slug])


def read(client: Client, name: str, show: Show, query: str = "") -> str:
    client.force_login(office_of(show))
    answer = client.get(address(name, show) + query)
    assert answer.status_code == 200
    return answer.content.decode()


def said(answer: Any) -> str:
    return " ".join(str(message) for message in get_messages(answer.wsgi_request))


def slip(judge: Judge, entry: Entry, criterion: Criterion) -> int:
    """Give fair marks, save that J1 writes 0 for the order of entry 2's camp."""
    slipped = (judge.code, entry.number, criterion.code) == ("J1", 2, "ck_order")
    return 0 if slipped else 8 if criterion.code == "ck_order" else fair(judge, entry, criterion)


@pytest.fixture
def asked() -> Question:
    """A question to J1 about a slip, in a show whose every card is in."""
    show = build_show(n_judges=3, judges_per_section=3, kin=False)
    mark_everything(show, slip)
    client = Client()
    client.force_login(office_of(show))
    answer: Any = client.post(address("run-checks", show))
    assert answer.url == address("questions", show)
    return Question.objects.get(judge__code="J1", entry__number=2, criterion__code="ck_order")


# --- Questions ------------------------------------------------------------------------


def test_a_question_is_shown_with_its_figures(client: Client, asked: Question):
    show = asked.judge.show
    text = read(client, "questions", show)
    assert "1 question waits for a judge's answer." in text
    assert "the card says 0." in text
    assert f"Studentized residual {abs(asked.statistic):.1f}" in text
    assert f"the checks ask above {asked.threshold:.1f}" in text
    assert "each check by itself raises something in up to 5 of 100 shows" in text
    assert "the 10 checks together raise something in up to 40 of 100 shows." in text


def answering(client: Client, question: Question, *, by: Person | None = None, **typed: Any) -> Any:
    client.force_login(by or office_of(question.judge.show))
    return client.post(reverse("judging:answer-question", args=[question.pk]), typed)


def mark_asked_about(question: Question) -> CardMark:
    return CardMark.objects.get(
        card__judge=question.judge, card__entry=question.entry, criterion=question.criterion
    )


def test_a_slip_is_corrected_for_the_judge(client: Client, asked: Question):
    answer = answering(client, asked, verdict="correct", value="8", reason="Meant the other key.")
    assert answer.url == address("questions", asked.judge.show)
    assert "Nothing is changed until a second officer stands by it." in said(answer)
    assert mark_asked_about(asked).value == 0
    text = read(client, "questions", asked.judge.show)
    assert "1 correction waits for a second officer." in text
    assert "You typed it; another officer must stand by it." in text
    assert ">Stand by 8<" not in text
    again = answering(client, asked, do="stand-by")
    assert "another officer must stand by it" in said(again)
    answer = answering(client, asked, by=steward_of(asked.judge.show), do="stand-by")
    assert "Corrected from 0 to 8." in said(answer)
    asked.refresh_from_db()
    assert asked.state == Question.State.CORRECTED
    assert mark_asked_about(asked).value == 8
    text = read(client, "questions", asked.judge.show)
    assert "0 became 8" in text
    assert f"typed by {office_of(asked.judge.show).name}" in text
    assert "Meant the other key." in text
    assert "No question is open." in text


def test_a_correction_is_sent_back_and_a_question_closed(client: Client, asked: Question):
    answering(client, asked, verdict="correct", value="8", reason="Meant the other key.")
    steward = steward_of(asked.judge.show)
    refused = answering(client, asked, by=steward, do="send-back", reason=" ")
    assert refused.status_code == 422
    text = refused.content.decode()
    assert "Why does it go back?" in text
    assert ">Stand by 8<" in text
    assert text.count('class="fault"') == 1
    back = answering(client, asked, by=steward, do="send-back", reason="Ask her.")
    assert "the question is open again" in said(back)
    answering(client, asked, by=steward, do="close", reason="She went home.")
    asked.refresh_from_db()
    assert (asked.state, asked.reason) == (Question.State.CLOSED, "She went home.")
    assert mark_asked_about(asked).value == 0
    text = read(client, "questions", asked.judge.show)
    assert "closed by the office" in text
    assert "0 stands" in text


def test_the_judge_cannot_recall(client: Client, asked: Question):
    answer = answering(client, asked, verdict="unsure", reason="Too many wagons.")
    assert "cannot recall" in said(answer)
    asked.refresh_from_db()
    assert asked.state == Question.State.CANNOT_RECALL


def test_a_confirmed_mark_stays_whatever_number_was_typed(client: Client, asked: Question):
    answering(client, asked, verdict="confirm", value="9", reason="It was that bad.")
    asked.refresh_from_db()
    assert asked.state == Question.State.CONFIRMED
    assert mark_asked_about(asked).value == 0
    again = answering(client, asked, verdict="correct", value="8", reason="Changed my mind.")
    assert "answered before" in said(again)
    assert mark_asked_about(asked).value == 0


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"verdict": "correct", "value": "8", "reason": " "}, "What did the judge say?"),
        ({"verdict": "correct", "value": "11", "reason": "Kept."}, "takes at most 10"),
        ({"verdict": "correct", "value": "seven", "reason": "Kept."}, "A number, such as 8."),
        ({"verdict": "correct", "value": "NaN", "reason": "Kept."}, "A number, such as 8."),
        ({"verdict": "correct", "value": "", "reason": "Kept."}, "the number is missing"),
        ({"verdict": "", "value": "", "reason": "Kept."}, "confirm or correct"),
    ],
)
def test_a_faulty_answer_is_refused_and_kept(
    client: Client, asked: Question, typed: dict[str, Any], words: str
):
    answer = answering(client, asked, **typed)
    assert answer.status_code == 422
    text = answer.content.decode()
    assert words in text
    assert 'class="fault"' in text
    assert f'value="{typed["reason"]}"' in text
    asked.refresh_from_db()
    assert asked.state == Question.State.OPEN
    assert mark_asked_about(asked).value == 0


def test_checks_over_too_few_cards_say_so(client: Client):
    show = build_show()
    open_window(show)
    client.force_login(office_of(show))
    assert "too few cards are in" in said(client.post(address("run-checks", show)))
    judge = judge_of(show, "J1")
    seat = judge.seats.select_related("entry").first()
    assert seat
    send(pair(judge)[0], card_events(judge, seat.entry))
    answer: Any = client.post(address("run-checks", show))
    assert answer.status_code == 302
    assert "too few cards are in" in said(answer)
    assert Question.objects.count() == 0


def test_running_the_checks_again_asks_nothing_twice(client: Client, asked: Question):
    client.force_login(office_of(asked.judge.show))
    answer: Any = client.post(address("run-checks", asked.judge.show))
    assert "nothing new to ask" in said(answer)
    assert Question.objects.count() == 1


# --- The record -----------------------------------------------------------------------


def test_the_record_is_paged_and_found_by_words(client: Client):
    show = build_show()
    for n in range(60):
        record_change(
            show=show,
            actor=office_of(show),
            at=AT,
            verb="noted",
            subject=f"slip {n}",
            reason="Wind.",
        )
    text = read(client, "record", show)
    assert "slip 59" in text
    assert "slip 9<" not in text
    assert "Page 1 of" in text
    assert "slip 9<" in read(client, "record", show, "?page=2")
    found = read(client, "record", show, "?q=noted+slip+59")
    assert "1 line with" in found
    assert "slip 58" not in found
    assert "No line is like this." in read(client, "record", show, "?q=zebra")
    assert "Page" in read(client, "record", show, "?page=no")


def test_the_record_escapes_and_keeps_to_its_show(client: Client):
    show, other = build_show(n_entries=1), build_show(slug="elsewhere", n_entries=1)
    record_change(
        show=show, actor=None, at=AT, verb="noted", subject="<b>bold</b>", after={"a_b": [1, 2]}
    )
    text = read(client, "record", show, "?q=noted")
    assert "&lt;b&gt;bold&lt;/b&gt;" in text
    assert '<th scope="row">a b</th><td>–</td><td>1, 2</td>' in text
    assert "The service" in text
    assert "0 lines with" in read(client, "record", other, "?q=noted")
