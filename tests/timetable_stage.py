"""A show whose visits are written straight into rows: what timetables and feeds are read from."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

from django.test import Client

from entries.models import CampSpot, Entry
from judging.models import Announcement, Judge, Scorecard, Seat, Section, Visit, Window
from showrun.shows.models import Person, RoleHeld, Show

OPENS_AT = datetime(2027, 5, 15, 14, 0, tzinfo=UTC)
PUBLISHED_AT = datetime(2027, 5, 1, 15, 0, tzinfo=UTC)
SLOT = timedelta(minutes=12)
STAY = timedelta(minutes=10)
RIG = {
    "tongue": "drop",
    "hitch": "team",
    "draft": "leather",
    "pattern": "civil",
    "holdback": "pole_strap",
}
HOSTILE = 'Aunt\'s; "Sons", \\n\\\\ <b>& {{ 7|add:7 }}\r\nBEGIN:VEVENT\r\nSUMMARY:owned'


def person(name: str, *roles: str, show: Show | None = None) -> Person:
    """Make a person with an address of their own."""
    count = Person.objects.count()
    made = Person.objects.create_user(email=f"person{count}@people.example", name=name)
    for role in roles:
        assert show is not None
        RoleHeld.objects.create(show=show, person=made, role=role)
    return made


def planned(
    n_wagons: int = 5,
    n_judges: int = 3,
    *,
    slug: str = "two-lanterns",
    wagon_names: Sequence[str] = (),
    judge_names: Sequence[str] = (),
    published: bool = True,
) -> Show:
    """Make a show in which every judge sees every wagon, one after the other."""
    show = Show.objects.create(
        slug=slug,
        name="Two Lanterns Wagon Days",
        ground="Two Lanterns Ground",
        starts_on=date(2027, 5, 14),
        ends_on=date(2027, 5, 16),
        judging_starts_at=OPENS_AT,
        judging_minutes=600,
        entry_cap=60,
    )
    section = Section.objects.create(
        scorecard=Scorecard.objects.create(show=show, name="Wagon", in_use=True),
        code="harness",
        name="Harness",
        points=Decimal(20),
        minutes=10,
        position=0,
    )
    entries = [
        Entry.objects.create(
            show=show,
            exhibitor=person(f"Exhibitor {n}"),
            number=n,
            wagon_name=wagon_names[n - 1] if n <= len(wagon_names) else f"Wagon of Creek {n}",
            status="confirmed",
            spot=CampSpot.objects.create(show=show, number=100 + n, x_ft=n, y_ft=0),
            entered_at=PUBLISHED_AT,
            **RIG,
        )
        for n in range(1, n_wagons + 1)
    ]
    judges = [
        Judge.objects.create(
            show=show,
            person=person(judge_names[n - 1] if n <= len(judge_names) else f"Judith Number{n}"),
            code=f"J{n}",
        )
        for n in range(1, n_judges + 1)
    ]
    window = Window.objects.create(
        show=show,
        opens_at=OPENS_AT,
        available_minutes=600,
        needed_minutes=600,
        bound_minutes=500,
        proven=False,
        solver="by hand",
        published_at=PUBLISHED_AT if published else None,
    )
    slots = max(n_wagons, n_judges)
    for j, judge in enumerate(judges):
        for k in range(slots):
            place = (k + j) % slots
            if place < n_wagons:
                starts_at = OPENS_AT + k * SLOT
                Seat.objects.create(judge=judge, entry=entries[place], section=section)
                Visit.objects.create(
                    window=window,
                    judge=judge,
                    entry=entries[place],
                    starts_at=starts_at,
                    ends_at=starts_at + STAY,
                )
    if published:
        Announcement.objects.create(show=show, number=1, at=PUBLISHED_AT)
    return show


def entry_of(show: Show, number: int = 1) -> Entry:
    """Return the entry with this number."""
    return Entry.objects.select_related("exhibitor", "show").get(show=show, number=number)


def judge_of(show: Show, code: str = "J1") -> Judge:
    """Return the judge with this code."""
    return Judge.objects.select_related("person", "show").get(show=show, code=code)


def signed_in(who: Person | None) -> Client:
    """Return a browser in which this person is signed in."""
    client = Client()
    if who is not None:
        client.force_login(who, backend="django.contrib.auth.backends.ModelBackend")
    return client
