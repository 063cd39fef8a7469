"""The key: nothing anybody reads before it is opened says which wagon a code stands for."""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from html import unescape
from typing import Any

import pytest
from django.urls import reverse

from entries.models import Entry
from judging.models import Dish, FoodRound, TablePlace
from judging.queries.food import tables_of
from showrun.shows.actions.plan_show import give_role
from showrun.shows.models import Person, RoleHeld, Show
from showrun.shows.rules.access import Role
from tests.food_stage import (
    SEED,
    all_came,
    as_person,
    clock_at,
    closed,
    drawn,
    food_round,
    key_holder,
    read,
    words,
)
from tests.judged_show import build_show, judge_of, office_of, steward_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def show() -> Show:
    return build_show()


def pairs(food: FoodRound) -> dict[str, Entry]:
    dishes = Dish.objects.filter(round=food).select_related("entry")
    return {dish.code: dish.entry for dish in dishes}


def office_texts(show: Show, person: Person) -> Iterator[tuple[str, str]]:
    """Yield everything the office can read that could know of food, without the form's token."""
    client = as_person(person)
    addresses = [
        reverse("judging:food", args=[show.slug]),
        reverse("judging:turn-in", args=[show.slug]),
        reverse("judging:food-temperatures", args=[show.slug]),
        reverse("judging:record", args=[show.slug]),
        reverse("judging:progress", args=[show.slug]),
        reverse("judging:alerts", args=[show.slug]),
        reverse("reports:office", args=[show.slug]),
        f"/api/v1/shows/{show.slug}/food",
        "/",
    ]
    for food in FoodRound.objects.filter(show=show):
        for name in ("food-round", "food-slips", "turn-in-round"):
            addresses.append(reverse(f"judging:{name}", args=[show.slug, food.pk]))
    for address in addresses:
        answer = client.get(address)
        assert answer.status_code == 200, address
        text = re.sub(r'name="csrfmiddlewaretoken" value="\w+"', "", answer.content.decode())
        yield address, text


def deal_anew(food: FoodRound) -> None:
    """Give every code another wagon, which keeps its turn-in; codes stay where they are served."""
    dishes = list(Dish.objects.filter(round=food).select_related("entry").order_by("code"))
    places = [(p.judge_id, p.dish.code, p.position) for p in
              TablePlace.objects.filter(round=food).select_related("dish")]  # fmt: skip
    moved = dishes[2:] + dishes[:2]
    Dish.objects.filter(round=food).delete()
    anew = [
        Dish(round=food, code=one.code, entry=other.entry, standing=other.standing,
             came_at=other.came_at, late_s=other.late_s, taken_by=other.taken_by)
        for one, other in zip(dishes, moved, strict=True)
    ]  # fmt: skip
    random.Random(4).shuffle(anew)
    for dish in anew:
        dish.save()
    of = {dish.code: dish for dish in anew}
    TablePlace.objects.bulk_create(
        TablePlace(round=food, judge_id=judge, dish=of[code], position=position)
        for judge, code, position in places
    )


@pytest.mark.parametrize("who", [office_of, steward_of])
def test_nothing_the_office_reads_depends_on_which_wagon_a_code_stands_for(
    show: Show, monkeypatch: Any, who: Any
):
    """Were the key another one, pages, API and record would be the same, to the byte."""
    key_holder(show)
    food = drawn(show)
    clock_at(monkeypatch, minutes=-4)
    client = as_person(office_of(show))
    for minutes, wagon in ((-3, 4), (0, 2), (6, 1)):
        clock_at(monkeypatch, minutes=minutes)
        client.post(reverse("judging:turn-in", args=[show.slug]), {"wagon": wagon})
    assert Dish.objects.filter(came_at__isnull=False).count() == 3
    before, said = pairs(food), dict(office_texts(show, who(show)))
    deal_anew(food)
    after = pairs(food)
    assert before.keys() == after.keys()
    assert not any(before[code] == after[code] for code in before)
    again = dict(office_texts(show, who(show)))
    assert said.keys() == again.keys()
    for address, text in said.items():
        assert text == again[address], address


def test_no_office_page_holds_a_wagon_beside_a_code_or_the_seed(show: Show):
    key_holder(show)
    food = drawn(show)
    all_came(food)
    codes = set(pairs(food))
    names = set(Entry.objects.filter(show=show).values_list("wagon_name", flat=True))
    seen_codes = seen_names = 0
    for address, text in office_texts(show, office_of(show)):
        assert str(SEED) not in text, address
        has_codes = bool(codes & set(re.findall(r"(?<![\d.])\d{3}(?!\d)", words(text))))
        has_names = any(name in text for name in names)
        assert not (has_codes and has_names), address
        seen_codes += has_codes
        seen_names += has_names
    assert seen_codes >= 2
    assert seen_names >= 1


def test_the_desk_has_no_number_of_a_dish(show: Show):
    """A dish's own number follows its code; forms name wagons."""
    food = drawn(show)
    text = read(office_of(show), "turn-in-round", show.slug, food.pk)
    values = re.findall(r'name="(\w+)" value="([^"]*)"', text.split("</main>")[0])
    sent = {(name, value) for name, value in values if name != "csrfmiddlewaretoken"}
    assert sent == {("do", "take"), *(("wagon", str(n)) for n in range(1, 6))}


def test_the_key_page_is_the_key_holders_alone(show: Show):
    holder = key_holder(show)
    food = drawn(show)
    text = words(read(holder, "food-key", show.slug))
    for code, entry in pairs(food).items():
        assert f"{code} {entry.number}. {entry.wagon_name}" in text
    assert str(SEED) in text
    address = reverse("judging:food-key", args=[show.slug])
    for person in (office_of(show), steward_of(show), judge_of(show).person):
        for answer in (as_person(person).get(address), as_person(person).post(address)):
            assert answer.status_code == 403
            assert not [code for code in pairs(food) if code in words(answer.content.decode())]
    give_role(show=show, person=office_of(show), role=Role.KEY_HOLDER)
    assert as_person(office_of(show)).get(address).status_code == 403


def test_the_key_holder_gets_no_page_of_the_office_but_the_desk(show: Show):
    holder = key_holder(show)
    food = drawn(show)
    client = as_person(holder)
    for name, args in (
        ("food", ()), ("food-round", (food.pk,)), ("food-slips", (food.pk,)),
        ("food-temperatures", ()), ("record", ()), ("judges", ()), ("progress", ()),
    ):  # fmt: skip
        assert client.get(reverse(f"judging:{name}", args=[show.slug, *args])).status_code == 403
    assert client.get(f"/api/v1/shows/{show.slug}/food").status_code == 403
    assert client.get(reverse("judging:turn-in", args=[show.slug])).status_code == 200
    home = client.get("/").content.decode()
    assert reverse("judging:food-key", args=[show.slug]) in home
    assert "Keys you hold" not in as_person(office_of(show)).get("/").content.decode()


def test_the_office_names_the_key_holder(show: Show):
    client = as_person(office_of(show))
    address = reverse("judging:food", args=[show.slug])
    given = {"do": "key-holder", "key-name": "Odalys Brandt", "key-email": "o@showrun.example"}
    text = words(client.post(address, given, follow=True).content.decode())
    assert "Odalys Brandt holds the key now." in text
    assert RoleHeld.objects.get(role="key_holder").person.name == "Odalys Brandt"
    answer = client.post(address, {**given, "key-email": judge_of(show).person.email})
    assert answer.status_code == 422
    assert "judges cannot hold the key too" in unescape(answer.content.decode())
    assert client.post(address, {"do": "key-holder"}).status_code == 422


def test_opening_the_key_shows_it_to_the_office(show: Show):
    holder = key_holder(show)
    food = drawn(show)
    client = as_person(holder)
    address = reverse("judging:food-key", args=[show.slug])
    answer = client.post(address, {"round": food.pk, "reason": " "})
    assert answer.status_code == 409
    assert "The marks are not closed yet." in words(answer.content.decode())
    closed(food)
    assert client.post(address, {"round": food.pk}).status_code == 302
    assert "The key is open" not in client.get(address).content.decode()
    assert client.post(address, {"round": food.pk}).status_code == 409
    assert client.post(address, {"round": "no"}).status_code == 404
    text = words(read(office_of(show), "food-round", show.slug, food.pk))
    for code, entry in pairs(food).items():
        assert f"{code} {entry.number}. {entry.wagon_name}" in text
    body = as_person(office_of(show)).get(f"/api/v1/shows/{show.slug}/food").json()
    assert {(one["code"], one["number"]) for one in body[0]["key"]} == {
        (code, entry.number) for code, entry in pairs(food).items()
    }
    record = words(read(office_of(show), "record", show.slug))
    assert "Opened the key of the food round Beans of Trail wagon" in record


def test_the_api_gives_tables_by_code(show: Show):
    food = drawn(show)
    body = as_person(steward_of(show)).get(f"/api/v1/shows/{show.slug}/food").json()
    assert [(one["dish"], one["key"]) for one in body] == [("Beans", None)]
    assert [(t["judge"], tuple(t["codes"])) for t in body[0]["tables"]] == [
        (table.judge.code, table.codes) for table in tables_of(food)
    ]
    assert 0.5 < body[0]["efficiency"] < 1
    food_round(show, dish="Pie")
    body = as_person(steward_of(show)).get(f"/api/v1/shows/{show.slug}/food").json()
    assert (body[1]["tables"], body[1]["efficiency"]) == ([], None) or (
        body[0]["tables"], body[0]["efficiency"]) == ([], None)  # fmt: skip
