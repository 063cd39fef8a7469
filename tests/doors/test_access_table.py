"""Every address of the service against everybody who may come to it.

The table in `access_table.txt` is written by hand and compared with the resolver: an address
without a line fails, and so does a line without an address. Words used in it:

in      the door lets the person in; what it then says is its own matter (200, 302, 409, 422)
sign    sent to sign in and back
401     a phone's token is needed
403     the person is known to the show (or, on the API, not signed in), but it is not theirs
404     nothing here for this person: strangers are not even told that it exists
405     the address does not do that
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.db import transaction
from django.test import Client, override_settings
from django.urls import URLPattern, URLResolver, get_resolver

from entries.models import CrewMember, Entry
from judging.models import Judge
from showrun.shows.models import Person
from tests.everybody import VISITORS, Cast
from tests.kept import kept_for_module

pytestmark = pytest.mark.django_db

# nobody: not signed in; stranger: signed in, no part in any show; elsewhere: runs the office of
# another show; neighbour: exhibitor of this show with another entry; owner: of the entry asked
# for. What follows the address after a blank is the form that is sent.
TABLE = (Path(__file__).parent / "access_table.txt").read_text(encoding="utf-8")


def read_table() -> list[tuple[str, str, str, tuple[str, ...]]]:
    """Return method, route, form and the eight expectations of each line."""
    lines = []
    for line in TABLE.splitlines():
        if not line or line.startswith("#"):
            continue
        method, route, *rest = line.split()
        form = rest.pop(0) if len(rest) > len(VISITORS) else ""
        assert len(rest) == len(VISITORS), line
        lines.append((method, route, form, tuple(rest)))
    return lines


LINES = read_table()


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
    written = {(method, route) for method, route, _, _ in LINES}
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


def ask(cast: Cast, visitor: str, method: str, route: str, form: str) -> Any:
    """Send the request as the visitor, and undo what it did."""
    client = Client(raise_request_exception=False)
    if session := cast.sessions[visitor]:
        client.cookies[settings.SESSION_COOKIE_NAME] = session
    address = cast.address(route)
    with transaction.atomic():
        if method == "GET":
            answered = client.get(address)
        elif "api/" in address:
            kind = "application/json"
            answered = client.generic(method, address, "{}", content_type=kind)
        else:
            kind = "application/x-www-form-urlencoded"
            answered = client.post(address, cast.address(form), content_type=kind)
        transaction.set_rollback(True)
    return answered


def word_for(answered: Any) -> str:
    """Say in the table's words what became of the visitor."""
    status = answered.status_code
    if status == 302 and answered["Location"].startswith("/sign-in/?next="):
        return "sign"
    return str(status) if status in (401, 403, 404, 405) or status >= 500 else "in"


@pytest.mark.parametrize(
    ("method", "route", "form", "expected"), LINES, ids=[" ".join(line[:3]) for line in LINES]
)
def test_everybody_gets_what_the_table_says(
    cast: Cast, method: str, route: str, form: str, expected: tuple[str, ...]
):
    found = {name: word_for(ask(cast, name, method, route, form)) for name in VISITORS}
    assert found == dict(zip(VISITORS, expected, strict=True))


def test_a_refusal_gives_nothing_away(cast: Cast):
    """Whoever is kept out reads no name of a person or wagon of this show."""
    visitors = [person for person in cast.people.values() if person]
    people = Person.objects.exclude(pk__in=[person.pk for person in visitors])
    secrets = {
        *people.values_list("name", flat=True),
        *people.values_list("email", flat=True),
        *CrewMember.objects.values_list("name", flat=True),
        *Entry.objects.filter(show=cast.show).values_list("wagon_name", flat=True),
        *Judge.objects.filter(show=cast.show).values_list("person__email", flat=True),
    } - {person.name for person in visitors}  # each reads their own name
    assert len(secrets) > 20
    refused = 0
    for method, route, form, expected in LINES:
        for visitor, word in zip(VISITORS, expected, strict=True):
            if word in ("403", "404"):
                text = ask(cast, visitor, method, route, form).content.decode()
                assert not [s for s in secrets if s in text], (method, route, visitor)
                refused += 1
    assert refused > 200


def test_ids_of_another_show_open_nothing_under_ones_own(cast: Cast):
    """The office of another show, at its own address, with this show's ids."""
    own = {**cast.values, "slug": "other-ground"}
    read_only = {route for method, route, _, said in LINES if method == "POST" and "405" in said}
    asked = set()
    for line in LINES:
        method, route, form, _ = line
        wanted = "GET" if route in read_only else "POST"
        if "<slug:slug>" in route and route.count("<") > 1 and method == wanted:
            kept, cast.values = cast.values, own
            answered = ask(cast, "elsewhere", method, route, form)
            cast.values = kept
            assert answered.status_code == 404, (method, route, form)
            asked.add(method)
    assert asked == {"GET", "POST"}


def test_whoever_is_shut_out_of_the_system_is_out_everywhere(cast: Cast):
    """A person made inactive is nobody, at once, with the session they have."""
    office = cast.people["office"]
    assert office
    assert word_for(ask(cast, "office", "GET", "/shows/<slug:slug>/office/", "")) == "in"
    Person.objects.filter(pk=office.pk).update(is_active=False)
    assert word_for(ask(cast, "office", "GET", "/shows/<slug:slug>/office/", "")) == "404"
    assert word_for(ask(cast, "office", "GET", "/api/v1/shows/<slug:slug>/judges", "")) == "403"
