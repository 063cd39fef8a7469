"""Who may do what, line by line where it matters most."""

from __future__ import annotations

import pytest

from showrun.shows.rules.access import OWNER_DEEDS, TABLE, Deed, Role, may

BEHIND_THE_COUNTER = [deed for deed in Deed if deed not in OWNER_DEEDS]


def test_every_role_has_its_line() -> None:
    assert set(TABLE) == set(Role)


@pytest.mark.parametrize("deed", Deed)
def test_without_a_role_nothing_is_open(deed: Deed) -> None:
    assert not may([], deed)


@pytest.mark.parametrize("role", [Role.JUDGE, Role.SCRIBE, Role.EXHIBITOR])
@pytest.mark.parametrize("deed", Deed)
def test_judges_scribes_and_exhibitors_open_no_page_of_the_office(role: Role, deed: Deed) -> None:
    assert not may([role], deed)


def test_the_steward_is_a_second_hand_and_no_second_office() -> None:
    assert may([Role.STEWARD], Deed.SIGN_RESULT)
    for deed in (Deed.RELEASE_RESULT, Deed.RUN_JUDGES, Deed.RUN_ENTRIES, Deed.RUN_WINDOW):
        assert not may([Role.STEWARD], deed)


@pytest.mark.parametrize("deed", BEHIND_THE_COUNTER)
def test_owning_an_entry_opens_nothing_of_the_office(deed: Deed) -> None:
    assert not may([], deed, owner=True)


@pytest.mark.parametrize("deed", sorted(OWNER_DEEDS))
def test_owners_see_their_entry_and_its_papers(deed: Deed) -> None:
    assert may([], deed, owner=True)


def test_an_exhibitors_papers_are_for_owner_and_office_and_only_the_owner_asks() -> None:
    assert [role for role in Role if may([role], Deed.SEE_OWN_PAPERS)] == [Role.OFFICE]
    assert not any(may([role], Deed.ASK_QUERY) for role in Role)


def test_roles_add_up() -> None:
    assert may([Role.JUDGE, Role.ANNOUNCER], Deed.READ_CALL_LIST)
    assert not may([Role.JUDGE, Role.ANNOUNCER], Deed.SEE_RESULTS)


def test_the_key_is_the_key_holders_and_opens_nothing_of_the_office() -> None:
    assert [role for role in Role if may([role], Deed.KEEP_KEY)] == [Role.KEY_HOLDER]
    assert TABLE[Role.KEY_HOLDER] == {Deed.KEEP_KEY, Deed.TAKE_DISHES}
    assert not may([Role.STEWARD], Deed.RUN_FOOD)
