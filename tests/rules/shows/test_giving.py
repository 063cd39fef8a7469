"""Roles given and taken back: what each lets a person do, and what is against it."""

from __future__ import annotations

import pytest

from showrun.shows.rules.access import TABLE, Deed, Role
from showrun.shows.rules.giving import (
    GIVEN,
    NAMES,
    NOT_WITH_THE_KEY,
    what_it_lets,
    why_not_give,
    why_not_take,
)


def test_every_role_has_its_name_and_its_sentence() -> None:
    assert set(NAMES) == set(Role)
    for role in Role:
        said = what_it_lets(role)
        assert said.startswith("May ")
        assert said.endswith(".")


@pytest.mark.parametrize("role", [Role.STEWARD, Role.ANNOUNCER, Role.KEY_HOLDER])
def test_the_words_name_every_deed_of_the_table_and_no_other(role: Role) -> None:
    said = what_it_lets(role)
    assert {deed for deed in Deed if deed.value in said} >= TABLE[role]
    longer = {d for d in Deed for own in TABLE[role] if d.value in own.value}
    assert {deed for deed in Deed if deed.value in said} <= TABLE[role] | longer


def test_the_office_is_told_by_what_it_may_not_do() -> None:
    said = what_it_lets(Role.OFFICE)
    for deed in set(Deed) - TABLE[Role.OFFICE]:
        assert deed.value in said
    assert Deed.RELEASE_RESULT.value not in said


@pytest.mark.parametrize("role", sorted(set(Role) - set(GIVEN)))
def test_judges_and_exhibitors_are_made_elsewhere(role: Role) -> None:
    assert why_not_give(role, held=[])
    assert why_not_take(role, holders=5)


@pytest.mark.parametrize("role", GIVEN)
def test_a_role_is_given_once(role: Role) -> None:
    assert why_not_give(role, held=[]) == ""
    assert "already" in why_not_give(role, held=[role])


@pytest.mark.parametrize("other", sorted(set(Role) - {Role.KEY_HOLDER}))
def test_the_key_goes_with_no_part_that_could_use_it(other: Role) -> None:
    barred = other in NOT_WITH_THE_KEY
    assert bool(why_not_give(Role.KEY_HOLDER, held=[other])) == barred
    if other in GIVEN:
        assert bool(why_not_give(other, held=[Role.KEY_HOLDER])) == barred


def test_one_person_holds_the_key() -> None:
    assert "Ada Moor holds the key" in why_not_give(Role.KEY_HOLDER, held=[], key_holder="Ada Moor")


@pytest.mark.parametrize(("holders", "against"), [(1, True), (2, False)])
def test_a_show_keeps_its_office(holders: int, against: bool) -> None:
    assert bool(why_not_take(Role.OFFICE, holders=holders)) == against
    assert why_not_take(Role.STEWARD, holders=1) == ""
