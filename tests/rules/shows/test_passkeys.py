"""Where passkeys work, for how long a question is good, and what is kept of a person."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from showrun.shows.rules.passkeys import (
    ASKED_FOR,
    NAME_MAX,
    Place,
    passkey_name,
    passkey_place,
    still_good,
    user_handle,
)

NOON = datetime(2127, 5, 15, 12, tzinfo=UTC)


@pytest.mark.parametrize(
    ("scheme", "host", "found"),
    [
        ("https", "show.example", Place("https://show.example", "show.example")),
        ("https", "SHOW.example:443", Place("https://show.example", "show.example")),
        ("https", "show.example:8443", Place("https://show.example:8443", "show.example")),
        ("http", "localhost", Place("http://localhost", "localhost")),
        ("http", "a.localhost:80", Place("http://a.localhost", "a.localhost")),
        ("http", "show.example", None),
        ("https", "192.0.2.7", None),
        ("https", "[2001:db8::7]:443", None),
        ("http", "127.0.0.1:8000", None),
        ("https", "show.example:none", None),
        ("ftp", "show.example", None),
        ("https", "", None),
    ],
)
def test_the_address_asked_for(scheme: str, host: str, found: Place | None) -> None:
    assert passkey_place(public_url="", scheme=scheme, host=host) == found


@pytest.mark.parametrize(
    ("public_url", "works"),
    [
        ("https://show.example", True),
        ("https://show.example/", True),
        ("https://Show.Example:443/ground", True),
        ("http://show.example", False),
        ("https://www.show.example", False),
        ("https://show.example:8443", False),
        ("nonsense", False),
    ],
)
def test_the_public_address_is_the_only_one(public_url: str, works: bool) -> None:
    found = passkey_place(public_url=public_url, scheme="https", host="show.example")
    assert (found == Place("https://show.example", "show.example")) is works
    assert (found is None) is not works


def test_a_question_is_good_for_five_minutes_and_not_before_it_was_asked() -> None:
    assert still_good(asked_at=NOON, at=NOON)
    assert still_good(asked_at=NOON, at=NOON + ASKED_FOR)
    assert not still_good(asked_at=NOON, at=NOON + ASKED_FOR + timedelta(seconds=1))
    assert not still_good(asked_at=NOON, at=NOON - timedelta(seconds=1))


@given(st.integers(1, 2**63), st.integers(1, 2**63))
def test_each_person_has_one_handle_of_their_own(one: int, other: int) -> None:
    assert (user_handle(one) == user_handle(other)) is (one == other)
    assert 0 < len(user_handle(one)) <= 64


@given(st.text())
def test_a_name_is_one_line_and_never_nothing(typed: str) -> None:
    name = passkey_name(typed)
    assert 0 < len(name) <= NAME_MAX
    assert name.isprintable() and name == name.strip()
