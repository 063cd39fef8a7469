"""Roles of a show given by e-mail and taken back with a reason; every change in the record."""

from __future__ import annotations

import pytest

from showrun.errors import Conflict, InvalidInput
from showrun.shows.actions.change_roles import hand_out_role, take_role_back
from showrun.shows.models import AuditEntry, Person, RoleHeld, Show
from showrun.shows.queries import holders_of, roles_of
from showrun.shows.rules.access import Role
from tests import papers_stage as stage

pytestmark = pytest.mark.django_db
AT = stage.AT


@pytest.fixture
def show() -> Show:
    return stage.show()


@pytest.fixture
def office(show: Show) -> Person:
    return stage.person("Nora Fields", "office", show=show)


def give(show: Show, office: Person, role: Role, email: str, name: str = "") -> Person:
    return hand_out_role(show=show, email=email, name=name, role=role, by=office, at=AT)


def test_somebody_new_is_made_and_signs_in_by_a_link(show: Show, office: Person) -> None:
    person = give(show, office, Role.STEWARD, " Hal@People.example ", "Hal Petrie")
    assert (person.email, person.name) == ("hal@people.example", "Hal Petrie")
    assert not person.has_usable_password()
    assert roles_of(person, show) == {Role.STEWARD}
    line = AuditEntry.objects.get(show=show)
    assert (line.actor, line.verb, line.subject) == (office, "gave a role", "steward: Hal Petrie")
    assert line.after == {"role": "steward", "email": "hal@people.example"}


def test_somebody_known_keeps_the_name_and_parts_elsewhere(show: Show, office: Person) -> None:
    other = stage.show("elsewhere")
    known = stage.person("Ada Moor", "announcer", show=other)
    assert give(show, office, Role.ANNOUNCER, known.email.upper(), "Somebody Else") == known
    known.refresh_from_db()
    assert known.name == "Ada Moor"
    take_role_back(
        show=show, person_id=known.pk, role=Role.ANNOUNCER, reason="Ill.", by=office, at=AT
    )
    assert roles_of(known, show) == frozenset()
    assert roles_of(known, other) == {Role.ANNOUNCER}


@pytest.mark.parametrize(
    ("email", "name", "field"),
    [("nobody", "A", "email"), ("", "A", "email"), ("new@people.example", "  ", "name"),
     ("new@people.example", "x" * 121, "name")],
)  # fmt: skip
def test_what_is_typed_wrong_is_named_and_changes_nothing(
    show: Show, office: Person, email: str, name: str, field: str
) -> None:
    before = Person.objects.count()
    with pytest.raises(InvalidInput) as refused:
        give(show, office, Role.SCRIBE, email, name)
    assert set(refused.value.fields) == {field}
    assert Person.objects.count() == before
    assert not AuditEntry.objects.exists()


@pytest.mark.parametrize("role", [Role.JUDGE, Role.EXHIBITOR])
def test_a_judge_is_engaged_and_an_exhibitor_enters(show: Show, office: Person, role: Role) -> None:
    before = Person.objects.count()
    with pytest.raises(Conflict, match="follows"):
        give(show, office, role, "new@people.example", "New")
    # Refused, so nobody was made either.
    assert not RoleHeld.objects.exclude(person=office).exists()
    assert Person.objects.count() == before


def test_the_last_of_the_office_stays(show: Show, office: Person) -> None:
    def leave(person: Person) -> None:
        take_role_back(
            show=show, person_id=person.pk, role=Role.OFFICE, reason="Moves away.", by=person, at=AT
        )

    with pytest.raises(Conflict, match="one person in its office"):
        leave(office)
    second = give(show, office, Role.OFFICE, "second@people.example", "Second Hand")
    leave(office)
    assert holders_of(show)[Role.OFFICE] == [second]
    with pytest.raises(Conflict, match="one person in its office"):
        leave(second)
    line = AuditEntry.objects.get(show=show, verb="took a role back")
    assert line.reason == "Moves away."
    assert line.before == {"role": "office", "email": office.email}


@pytest.mark.parametrize("reason", ["", "   ", "x" * 201])
def test_a_role_is_taken_back_with_a_reason(show: Show, office: Person, reason: str) -> None:
    hal = give(show, office, Role.STEWARD, "hal@people.example", "Hal")
    with pytest.raises(InvalidInput) as refused:
        take_role_back(
            show=show, person_id=hal.pk, role=Role.STEWARD, reason=reason, by=office, at=AT
        )
    assert set(refused.value.fields) == {"reason"}
    assert roles_of(hal, show) == {Role.STEWARD}


def test_what_nobody_holds_is_not_taken(show: Show, office: Person) -> None:
    with pytest.raises(Conflict, match="taken back already"):
        take_role_back(
            show=show, person_id=office.pk, role=Role.STEWARD, reason="No.", by=office, at=AT
        )


def test_the_key_goes_to_one_person_without_another_part(show: Show, office: Person) -> None:
    with pytest.raises(Conflict, match="cannot hold the key"):
        give(show, office, Role.KEY_HOLDER, office.email)
    kay = give(show, office, Role.KEY_HOLDER, "kay@people.example", "Kay Bell")
    with pytest.raises(Conflict, match="Kay Bell holds the key"):
        give(show, office, Role.KEY_HOLDER, "lee@people.example", "Lee")
    with pytest.raises(Conflict, match="cannot go with"):
        give(show, office, Role.STEWARD, kay.email)
