"""Every address of the service against everybody who may come to it.

The table in `access_table.txt` is written by hand and compared with the resolver: an address
without a line fails, and so does a line without an address. Words used in it:

in      the door lets the person in; what it then says is its own matter (200, 302, 409, 422)
sign    sent to sign in and back
401     a phone's token is needed
403     the person is known to the show (or, on the API, not signed in), but it is not theirs
404     nothing here for this person: strangers are not even told that it exists
405     the address does not do that

This file walks the table once the results are out, `test_access_phases.py` in every other phase.
nobody: not signed in; stranger: signed in, no part in any show; elsewhere: runs the office of
another show; neighbour: exhibitor of this show with another entry; owner: of the entry asked for;
phone: a judge's paired phone with its token, not signed in; key: holds the key of the food round.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from django.db import transaction
from django.test import override_settings
from django.urls import URLPattern, URLResolver, get_resolver

from entries.models import CrewMember, Entry
from judging.models import Judge
from showrun.shows.models import Person
from tests.access_rows import ROWS, Row, ask, word_for
from tests.everybody import VISITORS, Cast
from tests.kept import kept_for_module

pytestmark = pytest.mark.django_db

# --- The table against the resolver --------------------------------------------------------


def patterns(inside: list[Any], before: str = "/") -> Iterator[tuple[str, URLPattern]]:
    for one in inside:
        route = before + str(one.pattern)
        if isinstance(one, URLResolver):
            yield from patterns(one.url_patterns, route)
        else:
            yield route, one


def methods_of(pattern: URLPattern) -> set[str]:
    """Return what must have a line: what an API view can do, both methods of a page."""
    view = getattr(pattern.callback, "view_class", None)
    if view is None:
        return {"GET", "POST"}
    every = ("get", "post", "put", "patch", "delete")
    return {name.upper() for name in every if hasattr(view, name)}


def test_every_address_has_its_line_and_every_line_its_address():
    there = {
        (method, route)
        for route, pattern in patterns(get_resolver().url_patterns)
        for method in methods_of(pattern)
    }
    written = {(row.method, row.route) for row in ROWS}
    assert sorted(there - written) == [], "addresses without a line"
    assert sorted(written - there) == [], "lines without an address"


# --- The table against the doors -----------------------------------------------------------


@pytest.fixture(scope="module")
def kept(django_db_setup: None, django_db_blocker: Any, tmp_path_factory: Any) -> Iterator[Cast]:
    files = override_settings(MEDIA_ROOT=tmp_path_factory.mktemp("files"))
    with files, kept_for_module(django_db_blocker):
        yield Cast()


@pytest.fixture
def cast(kept: Cast, db: None) -> Cast:
    return kept


@pytest.fixture(scope="module")
def secrets(kept: Cast) -> set[str]:
    """What nobody may read who is kept out: names of people and wagons of this show."""
    visitors = [person for person in kept.people.values() if person]
    people = Person.objects.exclude(pk__in=[person.pk for person in visitors])
    found = {
        *people.values_list("name", flat=True),
        *people.values_list("email", flat=True),
        *CrewMember.objects.values_list("name", flat=True),
        *Entry.objects.filter(show=kept.show).values_list("wagon_name", flat=True),
        *Judge.objects.filter(show=kept.show).values_list("person__email", flat=True),
    } - {person.name for person in visitors}  # each reads their own name
    assert len(found) > 20
    return found


def undone(cast: Cast, visitor: str, row: Row) -> Any:
    """Send the request as the visitor, and undo what it did."""
    with transaction.atomic():
        answered = ask(cast, visitor, row)
        transaction.set_rollback(True)
    return answered


@pytest.mark.parametrize("row", ROWS, ids=str)
def test_everybody_gets_what_the_table_says_and_a_refusal_gives_nothing_away(
    cast: Cast, secrets: set[str], row: Row
):
    found, told = {}, []
    for visitor in VISITORS:
        answered = undone(cast, visitor, row)
        found[visitor] = word_for(answered)
        if found[visitor] in ("401", "403", "404"):
            text = answered.content.decode()
            told += [(visitor, secret) for secret in secrets if secret in text]
    expected = row.expected("released")
    assert found == {visitor: expected[visitor] for visitor in found}
    assert told == []


def test_ids_of_another_show_open_nothing_under_ones_own(cast: Cast):
    """The office of another show, at its own address, with this show's ids."""
    own = {**cast.values, "slug": "other-ground"}
    read_only = {row.route for row in ROWS if row.method == "POST" and "405" in row.words.values()}
    asked = set()
    for row in ROWS:
        wanted = "GET" if row.route in read_only else "POST"
        if "<slug:slug>" in row.route and row.route.count("<") > 1 and row.method == wanted:
            kept, cast.values = cast.values, own
            answered = undone(cast, "elsewhere", row)
            cast.values = kept
            assert answered.status_code == 404, row
            asked.add(row.method)
    assert asked == {"GET", "POST"}


def test_whoever_is_shut_out_of_the_system_is_out_everywhere(cast: Cast):
    """A person made inactive is nobody, at once, with the session they have."""
    office = cast.people["office"]
    assert office
    page, api = (
        next(row for row in ROWS if str(row).strip() == f"GET {route}")
        for route in ("/shows/<slug:slug>/office/", "/api/v1/shows/<slug:slug>/judges")
    )
    assert word_for(undone(cast, "office", page)) == "in"
    Person.objects.filter(pk=office.pk).update(is_active=False)
    assert word_for(undone(cast, "office", page)) == "404"
    assert word_for(undone(cast, "office", api)) == "403"
