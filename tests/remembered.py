"""Shows that are built once in a process and put back row by row when they are asked for again.

To plan a small show by the real actions takes a thousand queries, and most tests begin with the
same one. Every test process builds each once; what the actions do is their own tests' matter.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, wraps
from typing import Any

from django.apps import apps
from django.db import connection

from showrun.shows.models import Show

# What a migration fills, or what Django keeps beside the shows.
NOT_OURS = ("auth", "contenttypes", "sessions", "admin")


@dataclass(frozen=True)
class Kept:
    """The show's key, and of each table what it is filled with and its rows."""

    show: int
    rows: list[tuple[str, list[tuple[Any, ...]]]]


@cache
def tables() -> list[str]:
    """Every table of ours, those between two models too."""
    ours = [m for m in apps.get_models(include_auto_created=True) if m._meta.managed]
    found = {m._meta.db_table for m in ours if m._meta.app_label not in NOT_OURS}
    return sorted(found)


def is_empty() -> bool:
    """Whether nothing was made since the migrations."""
    asked = " OR ".join(f'EXISTS (SELECT 1 FROM "{name}")' for name in tables())
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {asked}")
        return not cursor.fetchone()[0]


def taken(show: Show) -> Kept:
    """Take every row there is, as the database has it."""
    rows = []
    with connection.cursor() as cursor:
        for name in tables():
            cursor.execute(f'SELECT * FROM "{name}"')
            found = cursor.fetchall()
            if not found:
                continue
            columns = [f'"{column[0]}"' for column in cursor.description]
            values = ", ".join(["%s"] * len(columns))
            rows.append((f'INSERT INTO "{name}" ({", ".join(columns)}) VALUES ({values})', found))
    return Kept(show.pk, rows)


def put_back(kept: Kept) -> Show:
    """Put the rows back under the keys they had; keys given since are never lower."""
    with connection.cursor() as cursor:
        for words, rows in kept.rows:
            cursor.executemany(words, rows)
    return Show.objects.get(pk=kept.show)


def remembered(build: Callable[..., Show]) -> Callable[..., Show]:
    """Let a function that changes nothing but the database build each of its shows once.

    Where there is anything in the database already, or no transaction of the test's own in which
    rows may stand before those they name, it builds as it always did.
    """
    shows: dict[str, Kept] = {}

    @wraps(build)
    def again(**asked: Any) -> Show:
        if not connection.in_atomic_block or not is_empty():
            return build(**asked)
        key = json.dumps([connection.vendor, asked], sort_keys=True, default=str)
        if key in shows:
            return put_back(shows[key])
        show = build(**asked)
        shows[key] = taken(show)
        return show

    return again
