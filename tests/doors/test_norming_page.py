"""The norming page: set up, mark, compare, close."""

from __future__ import annotations

import re
from html import unescape

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from entries.models import Entry
from judging.actions.practice import close_practice
from judging.models import Judge, Section
from judging.queries.stages import standing_of
from judging.web.norming_view import letters
from showrun.shows.models import Person, Show
from tests.http_phone import Phone
from tests.judged_show import (
    AT,
    RIGS,
    build_show,
    concern,
    judge_of,
    mark,
    not_inspected,
    office_of,
    send,
    steward_of,
)
from tests.practice_wagon import NAME, PLANTED, give, phone_of, set_up

pytestmark = pytest.mark.django_db
ROWS = {"rg_wheels", "rg_brakes", "rg_queen_bolt", "ck_order", "ck_fire", "hn_leather",
        "hn_lines", "hn_pole_straps"}  # fmt: skip


@pytest.fixture
def show() -> Show:
    return build_show(n_entries=2)


def address(show: Show) -> str:
    return reverse("judging:norming", args=[show.slug])


def as_person(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def read(show: Show) -> str:
    answer = as_person(office_of(show)).get(address(show))
    assert answer.status_code == 200
    return unescape(answer.content.decode())


def words(text: str) -> str:
    """Return what a reader reads, blanks drawn together."""
    return " ".join(re.sub(r"<[^>]+>", " ", text).split())


def typed(**more: str) -> dict[str, str]:
    return {"do": "set-up", "wagon_name": NAME, "planted": PLANTED, **RIGS[0], **more}


# --- Setting up and closing -------------------------------------------------------------------


def test_the_office_sets_it_up_changes_it_and_closes_it(show: Show):
    client = as_person(office_of(show))
    assert "No practice wagon is set up." in read(show)
    answer = client.post(address(show), typed(), follow=True)
    assert f"{NAME} is set up." in unescape(answer.content.decode())
    text = read(show)
    assert "Drop tongue, team of two" in text
    assert "0 of 4 judges handed the card in" in text
    assert words(text).count("0 of 8 not begun") == 4
    client.post(address(show), typed(wagon_name="Other wagon", tongue="stiff"))
    assert "0 of 7" in words(read(show))
    answer = client.post(address(show), {"do": "close"}, follow=True)
    assert "Other wagon is off the judges' phones." in unescape(answer.content.decode())
    assert "Open again" in read(show)
    client.post(address(show), typed(wagon_name="Other wagon", tongue="stiff"))
    assert "Close the practice wagon" in read(show)


def test_what_is_wrong_is_said_beside_the_field_and_nothing_is_lost(show: Show):
    client = as_person(office_of(show))
    answer = client.post(address(show), typed(wagon_name=" ", planted="one nut loose"))
    text = unescape(answer.content.decode())
    assert answer.status_code == 422
    assert "The practice wagon is not set up yet" in text
    assert text.count("A name for the practice wagon, please.") == 2
    assert "one nut loose" in text
    assert client.post(address(show), {"do": "dance"}).status_code == 422
    assert client.post(address(show), {"do": "close"}).status_code == 409
    assert not Entry.objects.filter(status="practice").exists()


def test_without_a_card_or_a_judge_the_form_says_so():
    show = build_show(n_entries=0, n_judges=0)
    answer = as_person(office_of(show)).post(address(show), typed())
    assert answer.status_code == 422
    assert "Engage a judge first" in answer.content.decode()


def test_once_marked_name_and_rig_are_locked_and_planted_faults_are_not(show: Show):
    wagon = set_up(show)
    give(judge_of(show), wagon, {"rg_wheels": 7}, done=False)
    text = read(show)
    assert "so its name and rig stay as they are" in text
    shown = set(re.findall(r'<(?:input|select|textarea)[^>]* name="(\w+)"', text))
    assert "planted" in shown
    assert not {"wagon_name", *RIGS[0]} & shown
    sent = typed(wagon_name="Other", tongue="stiff", planted="None after all")
    answer = as_person(office_of(show)).post(address(show), sent)
    assert answer.status_code == 302
    wagon.refresh_from_db()
    assert (wagon.wagon_name, wagon.tongue, wagon.history) == (NAME, "drop", "None after all")


def test_the_steward_reads_and_cannot_set_up(show: Show):
    client = as_person(steward_of(show))
    assert client.get(address(show)).status_code == 200
    assert client.post(address(show), typed()).status_code == 403
    set_up(show)
    text = client.get(address(show)).content.decode()
    assert "<form method" not in text.split("<h1>")[1]
    assert client.post(address(show), {"do": "close"}).status_code == 403


# --- Comparing --------------------------------------------------------------------------------


@pytest.fixture
def marked(show: Show) -> Show:
    """J1 low, J2 and J3 in the middle, J4 high on the wheels and unable to see the brakes."""
    wagon = set_up(show)
    give(judge_of(show, "J1"), wagon, 5)
    give(judge_of(show, "J2"), wagon, 7)
    give(judge_of(show, "J3"), wagon, 7)
    last = judge_of(show, "J4")
    give(last, wagon, {code: 9 if code == "rg_wheels" else 7 for code in ROWS - {"rg_brakes"}},
         done=False)  # fmt: skip
    send(phone_of(last), [not_inspected(wagon, "rg_brakes")])
    return show


def test_the_page_asks_about_the_widest_rows_first_and_names_what_was_planted(marked: Show):
    text = read(marked)
    points = re.findall(r"<li><strong>(.*?)</strong>.*?<br>(.*?)</li>", text, re.DOTALL)
    assert points[0] == (
        "Spokes and felloes",
        "J1 gave 5, J4 gave 9: what did each of you see?",
    )
    assert len(points) == 8
    brakes = dict(points)["Brake beam, shoes and rod"]
    assert "J4 could not inspect it, J1, J2 and J3 could: how did you get to see it?" in brakes
    assert "Off hame strap one hole short" in text
    assert "These marks never count" in text


def test_rows_stand_by_section_with_a_strip_that_is_told_in_words(marked: Show):
    text = read(marked)
    wheels = re.search(r'<th scope="row">Spokes and felloes.*?</tr>', text, re.DOTALL)
    assert wheels
    label = "J1 gave 5, J2 gave 7, J3 gave 7, J4 gave 9; middle 7"
    assert f'role="img" aria-label="{label}"' in wheels[0]
    assert wheels[0].count("<circle") == 3
    assert re.findall(r"<text[^>]*>([^<]+)</text>", wheels[0]) == [
        "J1", "J2", "J3", "J4", "0", "10",
    ]  # fmt: skip
    figures = re.findall(r'class="num" data-label="(\w+)">([^<]+)<', wheels[0])
    assert figures == [
        ("Lowest", "5"), ("Middle", "7"), ("Highest", "9"), ("Apart", "4 steps, 40 %"),
    ]  # fmt: skip
    assert "not inspected: J4" in text
    # 2 x 9 + 7 of 30 with the brakes left out, against 2 x 5 + 5
    assert "over the 2 rows all of them marked: from 50 % to 83 %, 33 % apart." in text


def test_judges_are_set_beside_each_other_with_how_sure_it_is(marked: Show):
    lines = dict(re.findall(r'<th scope="row">[^<]*\((J\d)\)</th>\s*<td data-label="Beside the '
                            r'others">(.*?)</td>', read(marked)))  # fmt: skip
    # J1 is 2 below on five rows and on the brakes, 8/3 below on the wheels: 2.08 on average.
    assert lines["J1"].startswith("Marks lower than the others: 2.1 on a row of ten")
    # J2 is 2/3 above on six rows, level on the wheels, 1 above on the brakes: 0.625.
    assert lines["J2"] == "Marks higher than the others: 0.6 on a row of ten, give or take 0.2."
    assert "Only 5.0 of ten. 8 of 8 rows have the same mark: were they alike?" in read(marked)


def test_each_judges_state_is_said(marked: Show):
    text = words(read(marked))
    assert "3 of 4 judges handed the card in" in text
    assert text.count("8 of 8 handed in") == 3
    assert "8 of 8 in work" in text
    standing = standing_of(marked, hands_needed=2)
    assert (standing.practice_judges, standing.practice_marked) == (4, 3)
    assert standing.practice_open
    start = as_person(office_of(marked)).get(reverse("reports:office", args=[marked.slug]))
    assert "The practice wagon is set up; 3 of 4 judges have marked it." in start.content.decode()


def test_closed_it_still_shows_everything(marked: Show):
    before = read(marked)
    close_practice(show=marked, by=office_of(marked), at=AT)
    after = read(marked)
    assert "To talk about first" in after
    assert re.findall(r"<svg.*?</svg>", after, re.DOTALL) == re.findall(
        r"<svg.*?</svg>", before, re.DOTALL
    )
    assert not standing_of(marked, hands_needed=2).practice_open


def test_a_concern_and_late_touches_are_told(marked: Show):
    wagon = Entry.objects.get(show=marked, status="practice")
    close_practice(show=marked, by=office_of(marked), at=AT)
    set_up(marked)
    sent = [concern(wagon, "stop", "bridle torn"), mark(wagon, "rg_wheels", 1)]
    send(phone_of(judge_of(marked)), sent)
    text = words(read(marked))
    assert "1 safety concern not seen yet See to it" in text
    assert "1 touch on phones could not be written down here" in text


def test_one_judge_alone_is_told_so():
    show = build_show(n_entries=0, n_judges=1)
    give(judge_of(show), set_up(show), 6)
    text = read(show)
    assert "One judge alone has nobody to be compared with." in text
    assert "No row of this judge was marked by another judge too." in text


def test_places_are_left_out_and_passes_are_said_as_such(show: Show):
    Section.objects.filter(scorecard__show=show, code="camp_kit").update(form="placings")
    wagon = set_up(show)
    for code in ("J1", "J2"):
        give(judge_of(show, code), wagon, 6)
    text = read(show)
    assert ">Camp kit</h3>" not in text
    assert ">Running gear</h3>" in text


def test_long_short_names_get_letters(show: Show):
    Judge.objects.filter(show=show, code="J2").update(code="wheelwright")
    wagon = set_up(show)
    give(judge_of(show, "J1"), wagon, 4)
    give(judge_of(show, "wheelwright"), wagon, 8)
    text = read(show)
    assert "A gave 4, D gave 8: what did each of you see?" in text
    assert re.search(r'\(wheelwright\)</th>\s*<td data-label="Letter">D</td>', text)
    assert letters(28)[-3:] == ["Z", "27", "28"]


def test_hostile_words_are_words(show: Show):
    set_up(show, wagon_name="<b>Wagon</b>", planted='<img src=x onerror="alert(1)">')
    raw = as_person(office_of(show)).get(address(show)).content.decode()
    assert "&lt;b&gt;Wagon&lt;/b&gt;" in raw
    assert "<b>Wagon" not in raw
    assert "<img src=x" not in raw


def test_the_judges_phone_has_it_first_and_never_what_was_planted(show: Show):
    wagon = set_up(show)
    phone = Phone(judge_of(show))
    answered = phone.round()
    assert [(visit["practice"], visit["entry"]["id"]) for visit in answered.json()["visits"]] == [
        (True, wagon.pk)
    ]
    assert "hame strap one hole short" not in answered.content.decode()
    close_practice(show=show, by=office_of(show), at=AT)
    assert phone.round().json()["visits"] == []


def test_the_number_of_queries_does_not_grow_with_judges_and_marks(client: Client):
    counts = []
    for slug, n_judges in (("small", 2), ("large", 6)):
        show = build_show(slug=slug, n_entries=0, n_judges=n_judges)
        wagon = set_up(show)
        for n, judge in enumerate(Judge.objects.filter(show=show).select_related("show")):
            give(judge, wagon, n)
        client.force_login(office_of(show))
        client.get(address(show))
        with CaptureQueriesContext(connection) as queries:
            assert client.get(address(show)).status_code == 200
        counts.append(len(queries))
    assert counts[0] == counts[1]
