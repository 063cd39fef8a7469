"""Food rounds: set up, drawn, turned in, closed, opened; who may hold the key."""

from __future__ import annotations

from datetime import timedelta

import pytest

from entries.actions.decide_entry import scratch_entry
from entries.models import Entry
from judging.actions.engage_judge import declare_conflict
from judging.actions.food_rounds import appoint_key_holder, close_food_marks, open_key
from judging.actions.food_tables import draw_food
from judging.actions.food_turn_in import take_back, take_dish
from judging.models import Dish, FoodRound, Judge, TablePlace
from judging.queries.food import demand_key, tables_of, telling_gaps, view_of_round
from judging.rules.food.draw import draw_round
from judging.rules.food.turn_in import Standing
from judging.rules.panels.tables import connected
from showrun.errors import Conflict, InvalidInput, NotAllowed, NotFound, NotYet
from showrun.shows.actions.plan_show import give_role
from showrun.shows.models import AuditEntry, RoleHeld, Show
from showrun.shows.rules.access import Role
from tests.food_stage import NOON, SEED, all_came, closed, drawn, food_round, key_holder
from tests.judged_show import BEFORE, build_show, entry_of, judge_of, office_of, steward_of
from tests.served import most_at_one_position

pytestmark = pytest.mark.django_db


@pytest.fixture
def show() -> Show:
    return build_show()


def dish_of(food: FoodRound, number: int) -> Dish:
    return Dish.objects.get(round=food, entry__number=number)


def take(food: FoodRound, number: int, minutes: float = 0):
    at = NOON + timedelta(minutes=minutes)
    return take_dish(dish=dish_of(food, number), by=office_of(food.show), at=at)


# --- Setting up -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"dish": "  "}, "dish"),
        ({"dish": "b" * 61}, "dish"),
        ({"palate_limit": 0}, "palate_limit"),
        ({"judges": []}, "judges"),
        ({"window_minutes": 121}, "window_minutes"),
        ({"grace_minutes": -1}, "grace_minutes"),
        ({"late": "shot"}, "late"),
    ],
)
def test_what_makes_no_round_is_said_by_field(show: Show, wrong: dict, field: str):
    with pytest.raises(InvalidInput) as refused:
        food_round(show, **wrong)
    assert set(refused.value.fields) == {field}
    assert not FoodRound.objects.exists()


def test_class_and_judges_are_of_the_show(show: Show):
    other = build_show(slug="elsewhere", n_entries=2)
    with pytest.raises(InvalidInput) as refused:
        food_round(show, show_class=other.classes.get(code="trail"), judges=[judge_of(other)])
    assert set(refused.value.fields) == {"show_class", "judges"}


def test_a_class_has_one_round_for_a_dish(show: Show):
    food_round(show)
    with pytest.raises(Conflict, match="a round for beans"):
        food_round(show, dish="beans")
    assert food_round(show, dish="Bread").dish == "Bread"


def test_times_may_change_and_keep_the_tables_other_judges_undo_them(show: Show):
    food = drawn(show)
    codes = set(Dish.objects.values_list("code", flat=True))
    food = food_round(show, food=food, posted_at=NOON + timedelta(hours=1), late="noted")
    assert (food.late, food.drawn_at, food.seed) == ("noted", BEFORE, SEED)
    assert set(Dish.objects.values_list("code", flat=True)) == codes
    food = food_round(show, food=food, judges=[judge_of(show, "J1"), judge_of(show, "J3")])
    assert (food.drawn_at, food.seed) == (None, None)
    assert not Dish.objects.exists()
    assert not TablePlace.objects.exists()


def test_after_the_first_dish_nothing_is_changed_or_drawn(show: Show):
    food = drawn(show)
    take(food, 1)
    with pytest.raises(Conflict, match="A dish has come already"):
        food_round(show, food=food, posted_at=NOON + timedelta(hours=1))
    with pytest.raises(Conflict, match="cannot be drawn any more"):
        draw_food(food=food, seed=3, by=office_of(show), at=NOON)
    take_back(dish=dish_of(food, 1), reason="wrong wagon", by=office_of(show), at=NOON)
    assert draw_food(food=food, seed=3, by=office_of(show), at=NOON).seed == 3


# --- The draw ---------------------------------------------------------------------------------


def test_tables_hold_what_the_rule_draws(show: Show):
    food = drawn(show)
    wagons = list(Entry.objects.confirmed().filter(show=show).order_by("number"))
    said = draw_round(5, 4, 3, seed=SEED, barred=[(1, 0)])  # J2 is kin to wagon 1
    assert [dish_of(food, n).code for n in range(1, 6)] == list(said.codes)
    assert len(wagons) == 5
    assert [t.codes for t in tables_of(food)] == [
        tuple(said.codes[n] for n in order) for order in said.orders
    ]


def test_conflicts_are_kept_apart_and_everything_can_be_compared(show: Show):
    for wagon in (2, 3):
        declare_conflict(
            judge=judge_of(show, "J4"), entry=entry_of(show, wagon), kind="crew", reason="",
            by=office_of(show), at=BEFORE,
        )  # fmt: skip
    for seed in range(12):
        Dish.objects.all().delete()
        FoodRound.objects.all().delete()
        food = drawn(show, seed=seed)
        tables = {table.judge.code: table.codes for table in tables_of(food)}
        assert dish_of(food, 1).code not in tables["J2"]
        assert not {dish_of(food, 2).code, dish_of(food, 3).code} & set(tables["J4"])
        assert connected(tables.values())
        assert most_at_one_position(list(tables.values())) == 1


def test_a_judge_with_too_many_conflicts_is_named(show: Show):
    for wagon in (2, 3, 4):
        declare_conflict(
            judge=judge_of(show, "J4"), entry=entry_of(show, wagon), kind="crew", reason="",
            by=office_of(show), at=BEFORE,
        )  # fmt: skip
    with pytest.raises(InvalidInput, match=r"J4\) has conflicts and may taste 2 of 5 dishes"):
        drawn(show)
    assert not Dish.objects.exists()


def test_a_wagon_nobody_may_taste_is_named(show: Show):
    with pytest.raises(InvalidInput, match="Every judge has a conflict with wagon 1"):
        drawn(show, judges=[judge_of(show, "J2")], palate_limit=4)


def test_too_few_places_are_refused_with_a_sentence(show: Show):
    with pytest.raises(InvalidInput, match=r"^2 judges with 2 dishes each have 4 places"):
        drawn(show, judges=[judge_of(show, "J1"), judge_of(show, "J3")], palate_limit=2)
    with pytest.raises(InvalidInput, match="compares nothing"):
        draw_food(food=food_round(show, dish="Pie", palate_limit=1), seed=1,
                  by=office_of(show), at=BEFORE)  # fmt: skip


def test_a_limit_above_the_dishes_means_all_of_them(show: Show):
    food = drawn(show, judges=[judge_of(show, "J1"), judge_of(show, "J3")], palate_limit=9)
    assert [len(table.codes) for table in tables_of(food)] == [5, 5]


def test_only_confirmed_wagons_of_the_class_and_judges_still_here_take_part(show: Show):
    food = food_round(show)
    scratch_entry(entry=entry_of(show, 4), reason="Lame mule.", by=office_of(show), at=BEFORE)
    Judge.objects.filter(show=show, code="J3").update(left_at=BEFORE)
    draw_food(food=food, seed=1, by=office_of(show), at=BEFORE)
    assert set(Dish.objects.values_list("entry__number", flat=True)) == {1, 2, 3, 5}
    assert [table.judge.code for table in tables_of(food)] == ["J1", "J2", "J4"]


def test_without_judges_or_wagons_there_is_nothing_to_draw(show: Show):
    food = food_round(show)
    Judge.objects.filter(show=show).update(left_at=BEFORE)
    with pytest.raises(NotYet, match="None of this round's judges"):
        draw_food(food=food, seed=1, by=office_of(show), at=BEFORE)
    with pytest.raises(NotYet, match="two confirmed wagons"):
        drawn(build_show(slug="lonely", n_entries=1))


def test_no_code_stands_for_two_dishes_of_the_show(show: Show):
    drawn(show)
    drawn(show, dish="Bread")
    codes = list(Dish.objects.values_list("code", flat=True))
    assert len(set(codes)) == 10


def test_rows_are_written_by_code_so_their_numbers_say_nothing_of_wagons(show: Show):
    drawn(show)
    by_row = list(Dish.objects.order_by("pk").values_list("code", flat=True))
    assert by_row == sorted(by_row)


def test_a_table_that_leaves_out_just_the_conflict_is_told(show: Show):
    # J2 tastes four of five, and has a conflict with one.
    assert telling_gaps(view_of_round(drawn(show, palate_limit=4))) == ["J2"]
    assert telling_gaps(view_of_round(drawn(show, dish="Pie"))) == []


# --- Turning in -------------------------------------------------------------------------------


def test_dishes_come_early_in_time_late(show: Show):
    food = drawn(show)
    with pytest.raises(NotYet, match=r"Wagon 1: The window opens in 1 min"):
        take(food, 1, -6)
    assert take(food, 1, -5).standing is Standing.IN_TIME
    assert take(food, 2, 5).standing is Standing.IN_TIME
    late = take(food, 3, 6)
    assert (late.standing, late.taken, late.late_s) == (Standing.REFUSED, False, 60)
    kept = dish_of(food, 3)
    assert (kept.standing, kept.late_s, kept.taken) == ("refused", 60, False)
    assert kept.taken_by == office_of(show)
    with pytest.raises(Conflict, match="wagon 3 is written down already"):
        take(food, 3, 7)


def test_late_and_noted_is_taken(show: Show):
    food = drawn(show, late="noted", grace_minutes=2)
    assert take(food, 1, 7).standing is Standing.IN_GRACE
    assert take(food, 2, 7.5).standing is Standing.LATE
    assert dish_of(food, 2).taken


def test_taking_back_wants_a_reason_and_something_to_take_back(show: Show):
    food = drawn(show)
    with pytest.raises(Conflict, match="not written down"):
        take_back(dish=dish_of(food, 1), reason="x", by=office_of(show), at=NOON)
    take(food, 1)
    for reason in ("  ", "x" * 201):
        with pytest.raises(InvalidInput):
            take_back(dish=dish_of(food, 1), reason=reason, by=office_of(show), at=NOON)
    take_back(dish=dish_of(food, 1), reason="Wagon 2's pot", by=office_of(show), at=NOON)
    kept = dish_of(food, 1)
    assert (kept.came_at, kept.standing, kept.taken_by) == (None, "", None)
    line = AuditEntry.objects.filter(show=show).first()
    assert line and (line.verb, line.reason) == ("took back", "Wagon 2's pot")


# --- Closing and opening ----------------------------------------------------------------------


def test_marks_are_closed_once_after_a_dish_came(show: Show):
    food = food_round(show)
    with pytest.raises(NotYet, match="not drawn"):
        close_food_marks(food=food, by=office_of(show), at=NOON)
    food = draw_food(food=food, seed=1, by=office_of(show), at=BEFORE)
    with pytest.raises(NotYet, match="No dish"):
        close_food_marks(food=food, by=office_of(show), at=NOON)
    food = closed(food)
    with pytest.raises(Conflict):
        close_food_marks(food=food, by=office_of(show), at=NOON)
    with pytest.raises(Conflict, match="turn-in table is closed"):
        take_back(dish=dish_of(food, 1), reason="x", by=office_of(show), at=NOON)


def test_the_key_opens_after_the_marks_or_with_a_reason(show: Show):
    holder = key_holder(show)
    food = drawn(show)
    with pytest.raises(NotYet, match="not closed yet"):
        open_key(food=food, reason=" ", by=holder, at=NOON)
    food = open_key(food=food, reason="A pot was mixed up.", by=holder, at=NOON)
    assert (food.revealed_at, food.revealed_by) == (NOON, holder)
    line = AuditEntry.objects.filter(show=show).first()
    assert line and line.reason == "A pot was mixed up."
    assert line.after["seed"] == SEED
    assert line.after["key"] == {d.code: str(d.entry) for d in Dish.objects.select_related("entry")}
    assert line.after["marks_closed"] is False
    with pytest.raises(Conflict, match="open already"):
        open_key(food=food, reason="again", by=holder, at=NOON)
    with pytest.raises(Conflict, match="over and cannot be drawn"):
        draw_food(food=food, seed=2, by=office_of(show), at=NOON)
    other = closed(drawn(show, dish="Bread"))
    assert open_key(food=other, reason="", by=holder, at=NOON).revealed_at == NOON
    with pytest.raises(NotYet, match="no key yet"):
        open_key(food=food_round(show, dish="Pie"), reason="x", by=holder, at=NOON)


def test_one_person_holds_the_key_and_none_who_must_not_know(show: Show):
    first = key_holder(show)
    for person in (
        office_of(show), steward_of(show), judge_of(show).person, entry_of(show, 1).exhibitor,
    ):  # fmt: skip
        with pytest.raises(InvalidInput, match="cannot hold the key"):
            appoint_key_holder(
                show=show, name=person.name, email=person.email, by=office_of(show), at=BEFORE
            )
    demand_key(first, show)
    second = appoint_key_holder(
        show=show, name="Odalys Brandt", email="odalys@showrun.example",
        by=office_of(show), at=BEFORE,
    )  # fmt: skip
    held = RoleHeld.objects.filter(show=show, role="key_holder")
    assert [one.person for one in held] == [second]
    with pytest.raises(NotFound):
        demand_key(first, show)
    line = AuditEntry.objects.filter(show=show).first()
    assert line and (line.before, line.after) == (["Philippa Quarrel"], ["Odalys Brandt"])


@pytest.mark.parametrize("role", [Role.OFFICE, Role.STEWARD, Role.JUDGE])
def test_whoever_gets_another_part_later_loses_sight_of_the_key(show: Show, role: Role):
    holder = key_holder(show)
    give_role(show=show, person=holder, role=role)
    with pytest.raises(NotAllowed):
        demand_key(holder, show)


# --- What the record may say ------------------------------------------------------------------


def test_no_line_of_the_record_holds_a_code_or_the_seed_before_the_key_is_opened(show: Show):
    key_holder(show)
    food = drawn(show)
    food = draw_food(food=food, seed=SEED + 1, by=office_of(show), at=BEFORE)
    take(food, 2, 6)
    take_back(dish=dish_of(food, 2), reason="Clock was wrong.", by=office_of(show), at=NOON)
    food = food_round(show, dish="Bread")
    draw_food(food=food, seed=SEED + 2, by=office_of(show), at=BEFORE)
    for one in FoodRound.objects.all():
        all_came(one)
    lines = AuditEntry.objects.filter(show=show)
    secret = {*Dish.objects.values_list("code", flat=True), str(SEED), str(SEED + 1)}
    secret |= {str(SEED + 2)}
    verbs = set(lines.values_list("verb", flat=True))
    assert {"laid out", "laid out again", "took in", "refused", "took back", "appointed"} <= verbs
    for line in lines:
        text = f"{line.verb} {line.subject} {line.before} {line.after} {line.reason}"
        words = {word.strip("{}[]'\",:.") for word in text.split()}
        assert not words & secret, text
