"""Food pages: set up, tables, slips, turn-in table, temperatures; and that the key stays a key."""

from __future__ import annotations

import re
from datetime import timedelta
from html import unescape
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from judging.actions.food_rounds import open_key
from judging.models import Dish, FoodRound, Judge, TemperatureReading
from judging.queries.food import tables_of
from showrun.shows.models import AuditEntry, Show
from tests.food_stage import (
    NOON,
    all_came,
    as_person,
    clock_at,
    drawn,
    food_round,
    key_holder,
    read,
    words,
)
from tests.judged_show import build_show, class_of, office_of, steward_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def show() -> Show:
    return build_show()


def typed(show: Show, **more: Any) -> dict[str, Any]:
    return {
        "do": "set-up", "show_class": class_of(show).pk, "dish": "Beans",
        "posted_at": "2027-05-15T12:00", "window_minutes": "5", "grace_minutes": "0",
        "late": "refused", "palate_limit": "3",
        "judges": [judge.pk for judge in Judge.objects.filter(show=show)], **more,
    }  # fmt: skip


# --- The office -------------------------------------------------------------------------------


def test_the_office_sets_a_round_up_draws_it_and_prints_slips(show: Show):
    client = as_person(office_of(show))
    address = reverse("judging:food", args=[show.slug])
    assert "No round is set up yet." in client.get(address).content.decode()
    answer = client.post(address, typed(show), follow=True)
    text = words(unescape(answer.content.decode()))
    assert "The round for Beans is set up." in text
    food = FoodRound.objects.get()
    assert food.posted_at == NOON
    assert "5 dishes, 4 judges, 3 each: every dish tasted 2 to 3 times; efficiency at most" in text
    assert "not drawn" in text
    page = reverse("judging:food-round", args=[show.slug, food.pk])
    text = words(unescape(client.post(page, {"do": "draw"}, follow=True).content.decode()))
    assert "every dish tasted 2 to 3 times; efficiency 0." in text
    assert "all judges can be compared" in text
    codes = [code for table in tables_of(food) for code in table.codes]
    assert len(codes) == 12
    assert all(code in text for code in codes)
    food.refresh_from_db()
    assert food.seed is not None
    assert food.seed.bit_length() > 31
    slips = read(office_of(show), "food-slips", show.slug, food.pk)
    assert "office-nav" not in slips
    for table in tables_of(food):
        part = slips.split(f"({table.judge.code})")[1].split("</section>")[0]
        assert tuple(re.findall(r"<strong>(\d{3})</strong>", part)) == table.codes
        assert "Food allergies" in part


def test_what_is_wrong_is_said_beside_the_field(show: Show):
    client = as_person(office_of(show))
    address = reverse("judging:food", args=[show.slug])
    answer = client.post(address, typed(show, dish="", palate_limit="0", judges=[]))
    text = unescape(answer.content.decode())
    assert answer.status_code == 422
    assert "The round is not set up yet" in text
    assert text.count("Which dish, please?") == 2
    assert text.count("Choose the judges at the table.") == 2
    food_round(show)
    answer = client.post(address, typed(show, dish="beans"))
    assert answer.status_code == 422
    assert "This class has a round of that name." in unescape(answer.content.decode())
    assert client.post(address, {"do": "dance"}).status_code == 422


def test_the_panels_own_draw_is_not_mistaken_for_a_food_draw(show: Show):
    """Both are told in the record; the panel's page looks its own up there."""
    drawn(show)
    read(office_of(show), "panel", show.slug)


def test_a_draw_that_cannot_be_is_told_on_the_page(show: Show):
    food = food_round(show, palate_limit=1)
    page = reverse("judging:food-round", args=[show.slug, food.pk])
    answer = as_person(office_of(show)).post(page, {"do": "draw"})
    assert answer.status_code == 422
    assert "A judge who tastes one dish compares nothing" in unescape(answer.content.decode())
    text = words(read(office_of(show), "food-round", show.slug, food.pk))
    assert "4 places, and to compare all dishes takes 8. Three tastings of every dish" in text
    slips = reverse("judging:food-slips", args=[show.slug, food.pk])
    assert as_person(office_of(show)).get(slips).status_code == 409


def test_the_round_is_changed_and_its_marks_closed(show: Show):
    food = drawn(show)
    client = as_person(office_of(show))
    page = reverse("judging:food-round", args=[show.slug, food.pk])
    given = typed(show, do="change", dish="Red beans", posted_at="2027-05-15T12:00")
    assert client.post(page, given).status_code == 302
    food.refresh_from_db()
    assert (food.dish, food.posted_at) == ("Red beans", NOON)
    assert "Close the marks" not in client.get(page).content.decode()
    all_came(food)
    text = client.get(page).content.decode()
    assert "Close the marks" in text
    assert "Draw again" not in text
    assert "5 of 5 dishes have come" in words(text)
    assert client.post(page, {"do": "draw"}).status_code == 409
    client.post(page, {"do": "close"})
    food.refresh_from_db()
    assert food.marks_closed_at


def test_the_steward_reads_takes_dishes_and_runs_nothing(show: Show):
    food = drawn(show)
    client = as_person(steward_of(show))
    for name, args in (("food", ()), ("food-round", (food.pk,))):
        page = reverse(f"judging:{name}", args=[show.slug, *args])
        text = client.get(page).content.decode()
        assert '<form method="post"' not in text.split("<h1>")[1]
        assert client.post(page, typed(show)).status_code == 403
    assert client.get(reverse("judging:turn-in", args=[show.slug])).status_code == 200


def test_a_gap_that_gives_a_wagon_away_is_told(show: Show):
    food = drawn(show, palate_limit=4)
    text = words(read(office_of(show), "food-round", show.slug, food.pk))
    assert "The table of J2 gives a wagon away" in text


def test_another_shows_round_is_nothing_here(show: Show):
    other = build_show(slug="elsewhere")
    food = drawn(other)
    client = as_person(office_of(show))
    for name in ("food-round", "food-slips", "turn-in-round"):
        page = reverse(f"judging:{name}", args=[show.slug, food.pk])
        assert client.get(page).status_code == 404


def test_hostile_words_are_words(show: Show):
    food = drawn(show, dish="<b>Beans</b>")
    raw = as_person(office_of(show)).get(
        reverse("judging:food-round", args=[show.slug, food.pk])
    ).content.decode()  # fmt: skip
    assert "&lt;b&gt;Beans&lt;/b&gt;" in raw
    assert "<b>Beans" not in raw


# --- The turn-in table ------------------------------------------------------------------------


def test_dishes_are_taken_by_wagon_and_late_ones_told(show: Show, monkeypatch: Any):
    food = drawn(show)
    clock_at(monkeypatch, minutes=-7)
    client = as_person(steward_of(show))
    desk = reverse("judging:turn-in", args=[show.slug])
    text = words(client.post(desk, {"wagon": "1"}, follow=True).content.decode())
    assert "Wagon 1: The window opens in 2 min. Please wait." in text
    assert "5 of 5 still to come." in text
    clock_at(monkeypatch)
    text = words(client.post(desk, {"wagon": "1"}, follow=True).content.decode())
    assert "Wagon 1: In time." in text
    assert "4 of 5 still to come." in text
    clock_at(monkeypatch, minutes=5, seconds=30)
    text = words(client.post(desk, {"wagon": "2"}, follow=True).content.decode())
    assert "Wagon 2: 30 s late. Not taken: a late dish is out of this round." in text
    text = words(client.post(desk, {"wagon": "2"}, follow=True).content.decode())
    assert "written down already" in text
    client.post(desk, {"wagon": "2", "do": "take-back", "reason": ""})
    assert Dish.objects.get(round=food, entry__number=2).standing == "refused"
    client.post(desk, {"wagon": "2", "do": "take-back", "reason": "Clock ran ahead."})
    assert Dish.objects.get(round=food, entry__number=2).standing == ""
    for wagon in ("99", "-1", "one", "9" * 30):
        assert client.post(desk, {"wagon": wagon}).status_code == 404


def test_the_desk_opens_at_the_round_nearest_to_now(show: Show, monkeypatch: Any):
    drawn(show)
    drawn(show, dish="Bread", posted_at=NOON + timedelta(hours=1))
    clock_at(monkeypatch, minutes=10)
    assert "<h2>Beans of" in read(steward_of(show), "turn-in", show.slug)
    clock_at(monkeypatch, minutes=50)
    assert "<h2>Bread of" in read(steward_of(show), "turn-in", show.slug)


def test_the_desk_without_rounds_says_so(show: Show):
    assert "No round is drawn yet." in read(steward_of(show), "turn-in", show.slug)
    food = food_round(show)
    text = read(steward_of(show), "turn-in-round", show.slug, food.pk)
    assert "not drawn yet" in text


# --- Temperatures -----------------------------------------------------------------------------


def line(**more: str) -> dict[str, str]:
    given = {"figure": "hot_holding", "food": "Beans", "reading": "128", "scale": "f"}
    return {"do": "log", **{f"log-{name}": value for name, value in {**given, **more}.items()}}


def test_readings_are_logged_in_either_scale_and_say_what_to_do(show: Show):
    client = as_person(steward_of(show))
    address = reverse("judging:food-temperatures", args=[show.slug])
    text = words(client.get(address).content.decode())
    assert "The local health department's rules come first" in unescape(text)
    assert "Food Code, 2022 edition" in text
    assert "Hot holding: at least 135 °F (57.2 °C)" in text
    text = words(client.post(address, line(), follow=True).content.decode())
    assert "Act now: 128 °F (53.3 °C), 7 °F under 135 °F (57.2 °C)." in text
    client.post(address, line(reading="60", scale="c"))
    newest = TemperatureReading.objects.first()
    assert newest and (str(newest.reading_f), newest.act_now) == ("140.0", False)
    assert client.post(address, line(reading="5000")).status_code == 422
    assert client.post(address, line(figure="luke")).status_code == 422
    assert client.post(address, {"do": "dance"}).status_code == 422
    assert TemperatureReading.objects.count() == 2


def test_a_correction_is_a_line_of_its_own(show: Show):
    client = as_person(office_of(show))
    address = reverse("judging:food-temperatures", args=[show.slug])
    client.post(address, line())
    wrong = TemperatureReading.objects.get()
    answer = client.post(address, line(reading="138", corrects=str(wrong.pk)))
    assert answer.status_code == 422
    assert "Say why the line is corrected" in unescape(answer.content.decode())
    sent = line(reading="138", corrects=str(wrong.pk), reason="Read the wrong pot.")
    text = words(client.post(address, sent, follow=True).content.decode())
    assert "corrected since" in text
    assert "Read the wrong pot." in text
    assert client.post(address, sent).status_code == 422  # corrected already
    assert AuditEntry.objects.filter(show=show, verb="corrected").count() == 1


def test_the_office_sets_figures_and_the_steward_does_not(show: Show):
    address = reverse("judging:food-temperatures", args=[show.slug])
    page = as_person(office_of(show)).get(address).content.decode()
    fields = dict(re.findall(r'name="(figures-\w+)" value="([^"]*)"', page))
    sent = {**fields, "do": "figures", "figures-hot_holding": "140",
            "figures-authority": "Tri-Creek County"}  # fmt: skip
    assert as_person(steward_of(show)).post(address, sent).status_code == 403
    assert as_person(office_of(show)).post(address, sent).status_code == 302
    text = words(as_person(steward_of(show)).get(address).content.decode())
    assert "Here that is Tri-Creek County." in text
    assert "Hot holding: at least 140 °F (60.0 °C) here" in text
    assert "Set the figures" not in text
    wrong = {**sent, "figures-hot_holding": "4000", "figures-edition": ""}
    assert as_person(office_of(show)).post(address, wrong).status_code == 422


# --- Both -------------------------------------------------------------------------------------


def test_the_number_of_queries_does_not_grow_with_wagons_and_judges(client: Client):
    counts: dict[str, list[int]] = {}
    for slug, n in (("small", 3), ("large", 5)):
        show = build_show(slug=slug, n_entries=n, n_judges=n - 1, kin=False)
        food = drawn(show)
        all_came(food)
        open_key(food=food, reason="Test.", by=key_holder(show), at=NOON)
        for person, name, args in (
            (office_of(show), "food", ()),
            (office_of(show), "food-round", (food.pk,)),
            (office_of(show), "food-slips", (food.pk,)),
            (office_of(show), "turn-in-round", (food.pk,)),
            (key_holder(show), "food-key", ()),
        ):
            client.force_login(person)
            address = reverse(f"judging:{name}", args=[show.slug, *args])
            client.get(address)
            with CaptureQueriesContext(connection) as queries:
                assert client.get(address).status_code == 200
            counts.setdefault(name, []).append(len(queries))
    assert all(small == large for small, large in counts.values()), counts
