"""Rows changed behind the service's back: past the triggers that keep lines as they were added."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db import connection, models


def guarded_tables() -> dict[str, list[tuple[str, str]]]:
    """Return the triggers of every guarded table, each by name and by what made it."""
    postgres = connection.vendor == "postgresql"
    asked = (
        "SELECT c.relname, t.tgname, pg_get_triggerdef(t.oid) FROM pg_trigger t "
        "JOIN pg_class c ON c.oid = t.tgrelid WHERE NOT t.tgisinternal"
        if postgres
        else "SELECT tbl_name, name, sql FROM sqlite_master WHERE type = 'trigger'"
    )
    found: dict[str, list[tuple[str, str]]] = {}
    with connection.cursor() as cursor:
        cursor.execute(asked)
        for table, name, made_by in cursor.fetchall():
            found.setdefault(table, []).append((name, made_by))
    return found


@contextmanager
def unguarded(*kinds: type[models.Model]) -> Iterator[None]:
    """Let the rows of these models, or of all, be edited and removed for a while."""
    only = {kind._meta.db_table for kind in kinds}
    tables = {t: found for t, found in guarded_tables().items() if not only or t in only}
    postgres = connection.vendor == "postgresql"
    with connection.cursor() as cursor:
        if postgres:  # or rows still to be held against their links lock the table
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        for table, triggers in tables.items():
            for name, _ in triggers:
                on = f' ON "{table}"' if postgres else ""
                cursor.execute(f'DROP TRIGGER "{name}"{on}')
        yield
        if postgres:
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        for triggers in tables.values():
            for _, made_by in triggers:
                cursor.execute(made_by)
        if postgres:
            cursor.execute("SET CONSTRAINTS ALL DEFERRED")


def let_flush_empty_guarded_tables(patch: Any) -> None:
    """Let the triggers step aside where SQLite empties whole tables between two tests."""
    if connection.vendor != "sqlite":
        return
    ops = type(connection.ops)
    plain = ops.execute_sql_flush

    def flush(self: Any, statements: Any) -> None:
        with unguarded():
            plain(self, statements)

    patch.setattr(ops, "execute_sql_flush", flush)
