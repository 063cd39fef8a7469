"""Every address against everybody, in each phase of a show but the one the table is written for.

What an address names may not be there yet: then nobody gets anywhere by it. What the table says
otherwise holds, save where a line set in below a row says how that phase differs; who is asked for
where it does not differ takes turns. A verb the table lets somebody use is not used here: what it
then does is the verb's own test.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from typing import Any
from unittest.mock import patch

import pytest
from django.db import transaction
from django.test import override_settings

from tests.access_rows import ROWS, Row, ask, word_for
from tests.everybody import VISITORS, Cast
from tests.kept import kept_for_module
from tests.volume import volume

pytestmark = pytest.mark.django_db

CLOCK = {
    "entries": datetime(2027, 5, 2, 15, 0, tzinfo=UTC),
    "judging": datetime(2027, 5, 15, 15, 5, tzinfo=UTC),
    "signed": datetime(2027, 5, 15, 22, 0, tzinfo=UTC),
    "after": datetime(2027, 8, 20, 15, 0, tzinfo=UTC),
}
# Whoever runs another show's office stands for all who have no part in this one; the walk of the
# other file asks each of them.
WALKERS = [name for name in VISITORS if name not in ("nobody", "stranger", "scribe")]
ALIKE = ("owner", "office")  # who gets furthest, where everybody gets the same
OTHERS = [name for name in WALKERS if name not in ALIKE]
IN_TURN = volume(3, len(OTHERS))


@pytest.fixture(scope="module", params=CLOCK)
def kept(
    request: Any, django_db_setup: None, django_db_blocker: Any, tmp_path_factory: Any
) -> Iterator[Cast]:
    files = override_settings(MEDIA_ROOT=tmp_path_factory.mktemp("files"))
    clock = patch("django.utils.timezone.now", lambda: CLOCK[request.param])
    with files, clock, kept_for_module(django_db_blocker):
        yield Cast(request.param)


@pytest.fixture
def cast(kept: Cast, db: None) -> Iterator[Cast]:
    logging.disable(logging.CRITICAL)  # thousands of lines nobody reads, and a third of the time
    yield kept
    logging.disable(logging.NOTSET)


def walkers(cast: Cast, n: int, row: Row) -> Iterable[str]:
    """Say whom to ask for: everybody where the phase differs, else some of the others in turn."""
    if cast.phase in row.differs:
        return WALKERS
    first = IN_TURN * (n + list(CLOCK).index(cast.phase))
    return (*ALIKE, *(OTHERS[k % len(OTHERS)] for k in range(first, first + IN_TURN)))


def asked_of(cast: Cast, n: int, row: Row) -> Iterator[tuple[str, str]]:
    """Yield whom to ask for in this phase, with the word expected, "out" for any refusal."""
    expected, differs = row.expected(cast.phase), row.differs.get(cast.phase, {})
    missing = cast.lacks(row.route)
    alike = len(set(expected.values())) == 1 or missing
    for visitor in ALIKE if alike else walkers(cast, n, row):
        word = expected[visitor]
        if word == "405":
            continue  # said before anything of the show is looked at; the other walk asks
        if missing and visitor not in differs:
            yield visitor, "out"
        elif word != "in" or row.method == "GET":
            yield visitor, word


def test_everybody_gets_what_the_table_says_of_the_phase(cast: Cast):
    wrong, walked = [], 0
    for n, row in enumerate(ROWS):
        for visitor, word in asked_of(cast, n, row):
            with transaction.atomic():
                found = word_for(ask(cast, visitor, row))
                transaction.set_rollback(True)
            walked += 1
            if found != word and (word != "out" or found == "in" or found.startswith("5")):
                wrong.append(f"{row}: {visitor} {found}, not {word}")
    assert wrong == [], "\n".join(wrong)
    assert walked > 1000
