"""A food round of the small judged show, one step further with each function.

`food_round(show)` sets up beans of the trail class, all judges at the table, two dishes each.
The posted time is `NOON`.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from judging.actions.food_rounds import appoint_key_holder, close_food_marks, set_up_food
from judging.actions.food_tables import draw_food
from judging.actions.food_turn_in import take_dish
from judging.models import Dish, FoodRound, Judge
from showrun.shows.models import Person, Show
from tests.judged_show import BEFORE, class_of, office_of

NOON = datetime(2027, 5, 15, 18, 0, tzinfo=UTC)
SEED = 6_917_529_027_641_081_857  # more than a machine tries


def food_round(show: Show, **more: Any) -> FoodRound:
    given = {
        "show_class": class_of(show),
        "dish": "Beans",
        "posted_at": NOON,
        "palate_limit": 3,
        "judges": list(Judge.objects.filter(show=show)),
        "window_minutes": 5,
        "grace_minutes": 0,
        "late": "refused",
        "by": office_of(show),
        "at": BEFORE,
    }
    return set_up_food(show=show, **{**given, **more})


def drawn(show: Show, seed: int = SEED, **more: Any) -> FoodRound:
    return draw_food(food=food_round(show, **more), seed=seed, by=office_of(show), at=BEFORE)


def key_holder(show: Show) -> Person:
    return appoint_key_holder(
        show=show,
        name="Philippa Quarrel",
        email=f"key.{show.slug}@showrun.example",
        by=office_of(show),
        at=BEFORE,
    )


def all_came(food: FoodRound, at: datetime = NOON) -> None:
    """Take every dish in, a second after the other, by wagon."""
    dishes = Dish.objects.filter(round=food, came_at__isnull=True)
    for n, dish in enumerate(dishes.order_by("entry__number")):
        take_dish(dish=dish, by=office_of(food.show), at=at + timedelta(seconds=n))


def closed(food: FoodRound) -> FoodRound:
    all_came(food)
    return close_food_marks(food=food, by=office_of(food.show), at=NOON + timedelta(hours=1))


def as_person(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def read(person: Person, name: str, *args: Any) -> str:
    answer = as_person(person).get(reverse(f"judging:{name}", args=args))
    assert answer.status_code == 200, answer.content
    return unescape(answer.content.decode())


def words(text: str) -> str:
    """Return what a reader reads, blanks drawn together."""
    return " ".join(re.sub(r"<[^>]+>", " ", text).split())


def clock_at(monkeypatch: pytest.MonkeyPatch, **later: Any) -> None:
    """Set the server's clock to noon and so much later."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOON + timedelta(**later))
