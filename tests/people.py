"""The cast of the tests: makers of rows, and people who play one part each.

A small show with room for three wagons, judged on 15 May 2127 in the Denver zone. `judge`
and `conflicted_judge` are engaged judges; their persons are `judge.person` and so on.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

import pytest
from factory.declarations import LazyAttribute, Sequence, SubFactory
from factory.django import DjangoModelFactory
from factory.helpers import post_generation

from entries.models import CampSpot, CrewMember, Entry, EntryClass
from entries.rules.places import Status
from judging.models import Conflict, Criterion, Judge, Scorecard, Section
from showrun.shows.models import Person, RoleHeld, Show, ShowClass
from showrun.shows.rules.access import Role

NOW = datetime(2127, 5, 1, 15, 0, tzinfo=UTC)

RIG = {
    "tongue": "drop",
    "hitch": "team",
    "draft": "leather",
    "pattern": "civil",
    "holdback": "pole_strap",
}


class PersonFactory(DjangoModelFactory[Person]):
    """A person who signs in by link and has no password."""

    class Meta:
        model = Person

    name = Sequence(lambda n: f"Person {n}")
    email = Sequence(lambda n: f"person{n}@showrun.example")

    @classmethod
    def _create(cls, model_class: type[Person], *args: Any, **kwargs: Any) -> Person:
        return Person.objects.create_user(**kwargs)


class ShowFactory(DjangoModelFactory[Show]):
    """A show with room for three wagons."""

    class Meta:
        model = Show

    slug = Sequence(lambda n: f"lantern-draw-{n}")
    name = "Lantern Draw Chuckwagon Days"
    ground = "Three Kettles Ground"
    starts_on = date(2127, 5, 14)
    ends_on = date(2127, 5, 16)
    judging_starts_at = datetime(2127, 5, 15, 14, 0, tzinfo=UTC)
    judging_minutes = 300
    zone = "America/Denver"
    entry_cap = 3


class ShowClassFactory(DjangoModelFactory[ShowClass]):
    """A class of a show."""

    class Meta:
        model = ShowClass

    show = SubFactory(ShowFactory)
    code = Sequence(lambda n: f"class-{n}")
    name = LazyAttribute(lambda row: str(row.code).replace("-", " ").capitalize())


class CampSpotFactory(DjangoModelFactory[CampSpot]):
    """A camp spot on the line."""

    class Meta:
        model = CampSpot

    show = SubFactory(ShowFactory)
    number = Sequence(lambda n: n + 1)
    x_ft = LazyAttribute(lambda row: 25.0 + 50.0 * (row.number - 1))
    y_ft = 0.0


class EntryFactory(DjangoModelFactory[Entry]):
    """An entry with a place and a crew of two; say `number` and `status` for a confirmed one."""

    class Meta:
        model = Entry
        skip_postgeneration_save = True

    show = SubFactory(ShowFactory)
    exhibitor = SubFactory(PersonFactory)
    wagon_name = Sequence(lambda n: f"Wagon {n}")
    status = Status.ENTERED.value
    entered_at = NOW
    tongue = "drop"
    hitch = "team"
    draft = "leather"
    pattern = "civil"
    holdback = "pole_strap"

    @post_generation
    def classes(self: Any, create: bool, given: list[ShowClass] | None, **_: Any) -> None:
        """Put the entry into the classes given."""
        for show_class in given or []:
            EntryClass.objects.create(entry=self, show_class=show_class)

    @post_generation
    def crew(self: Any, create: bool, given: int | None, **_: Any) -> None:
        """Name a head cook and cooks, two people unless said otherwise."""
        for n in range(2 if given is None else given):
            role = "cook" if n else "head_cook"
            CrewMember.objects.create(entry=self, name=f"Crew {n}", role=role)


def give(person: Person, show: Show, role: Role) -> Person:
    """Let the person play a part in the show."""
    RoleHeld.objects.get_or_create(show=show, person=person, role=role.value)
    return person


def make_scorecard(show: Show) -> Scorecard:
    """Return a card of two sections, 60 and 40 points, two criteria each."""
    card = Scorecard.objects.create(show=show, name="Wagon and camp", in_use=True)
    for position, (code, points) in enumerate([("running_gear", 60), ("camp_kit", 40)]):
        section = Section.objects.create(
            scorecard=card,
            code=code,
            name=code.replace("_", " ").capitalize(),
            points=points,
            minutes=4,
            position=position,
        )
        for n in (1, 2):
            Criterion.objects.create(
                section=section, code=f"{code}_{n}", name=f"Row {n} of {code}", position=n
            )
    return card


@pytest.fixture
def show(db: None) -> Show:
    """A show with two classes, three places and three camp spots."""
    show = ShowFactory.create(slug="lantern-draw", name="Lantern Draw Chuckwagon Days")
    ShowClassFactory.create(show=show, code="trail", name="Trail wagon", position=0)
    ShowClassFactory.create(show=show, code="ranch", name="Ranch wagon", position=1)
    for number in (1, 2, 3):
        CampSpotFactory.create(show=show, number=number)
    return show


@pytest.fixture
def trail(show: Show) -> ShowClass:
    """The show's trail class."""
    return show.classes.get(code="trail")


@pytest.fixture
def office(show: Show) -> Person:
    """The show secretary: runs this show's office."""
    return give(
        PersonFactory.create(name="Olive Secretary", email="office@showrun.example"),
        show,
        Role.OFFICE,
    )


@pytest.fixture
def steward(show: Show) -> Person:
    """The second hand: sees the office, signs, decides nothing about entries."""
    return give(
        PersonFactory.create(name="Stan Steward", email="steward@showrun.example"),
        show,
        Role.STEWARD,
    )


@pytest.fixture
def exhibitor(show: Show) -> Person:
    """Somebody who has entered a wagon."""
    return give(
        PersonFactory.create(name="Edna Cook", email="edna@showrun.example"), show, Role.EXHIBITOR
    )


@pytest.fixture
def other_exhibitor(show: Show) -> Person:
    """An exhibitor of the same show with another wagon."""
    return give(
        PersonFactory.create(name="Otto Cook", email="otto@showrun.example"), show, Role.EXHIBITOR
    )


@pytest.fixture
def stranger(db: None) -> Person:
    """Signed in, and with no part in any show."""
    return PersonFactory.create(name="Sam Stranger", email="sam@showrun.example")


@pytest.fixture
def entry(show: Show, trail: ShowClass, exhibitor: Person) -> Entry:
    """The exhibitor's entry: it holds a place and waits to be confirmed."""
    return EntryFactory.create(
        show=show, exhibitor=exhibitor, wagon_name="Tin Sparrow", classes=[trail]
    )


@pytest.fixture
def other_entry(show: Show, trail: ShowClass, other_exhibitor: Person) -> Entry:
    """The other exhibitor's entry, confirmed as number 1 at camp spot 1."""
    return EntryFactory.create(
        show=show,
        exhibitor=other_exhibitor,
        wagon_name="Copper Moth",
        classes=[trail],
        status=Status.CONFIRMED.value,
        number=1,
        spot=CampSpot.objects.get(show=show, number=1),
    )


@pytest.fixture
def scorecard(show: Show) -> Scorecard:
    """A small card of the show."""
    return make_scorecard(show)


def _engaged(show: Show, scorecard: Scorecard, *, code: str, name: str) -> Judge:
    person = PersonFactory.create(name=name, email=f"{code.lower()}@showrun.example")
    give(person, show, Role.JUDGE)
    judge = Judge.objects.create(show=show, person=person, code=code)
    judge.sections.set(scorecard.sections.all())
    return judge


@pytest.fixture
def judge(show: Show, scorecard: Scorecard) -> Judge:
    """A judge of all sections, free of conflicts."""
    return _engaged(show, scorecard, code="J1", name="Jo Judge")


@pytest.fixture
def conflicted_judge(show: Show, scorecard: Scorecard, entry: Entry) -> Judge:
    """A judge who is kin to the exhibitor and must not see `entry`."""
    judge = _engaged(show, scorecard, code="J2", name="Kit Kinsman")
    Conflict.objects.create(
        judge=judge, entry=entry, kind="kin", reason="cousin of the cook", declared_at=NOW
    )
    return judge
