"""PostgreSQL: its own programs dump and restore; all that is put back is one transaction."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import IO

from django.db import connection, transaction

from showrun.project.backup.archive import BackupRefused
from showrun.project.backup.saved import Saved

_COPY = re.compile(rb'COPY \w+\."?(\w+)"? ')
LOCK_WAIT = "30s"


# What triggers call comes with the dump as well; what an extension brought is left.
FUNCTIONS = """
SELECT p.oid::regprocedure::text FROM pg_proc p
WHERE p.pronamespace = current_schema()::regnamespace
AND NOT EXISTS (SELECT FROM pg_depend d WHERE d.objid = p.oid AND d.deptype = 'e')
ORDER BY 1
"""


class Postgres:
    """The database of this service on its server."""

    def save(self, to: Path) -> Saved:
        """Dump the database from a snapshot, and count its rows in the same one."""
        with transaction.atomic(durable=True), connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
            cursor.execute("SELECT pg_export_snapshot(), current_setting('server_version')")
            snapshot, version = cursor.fetchone()
            _run(
                "pg_dump",
                *("--format=custom", "--no-owner", "--no-privileges", "--no-password"),
                *(f"--snapshot={snapshot}", f"--file={to}", *_where()),
            )
            tables = {}
            for name in connection.introspection.table_names(cursor):
                counting = f"SELECT count(*) FROM {connection.ops.quote_name(name)}"  # noqa: S608
                cursor.execute(counting)
                tables[name] = cursor.fetchone()[0]
            cursor.execute("SELECT app || '.' || name FROM django_migrations")
            applied = tuple(sorted(name for (name,) in cursor.fetchall()))
        return Saved(tables, applied, version)

    def look_through(self, saved: Path) -> dict[str, int]:
        """Let `pg_restore` unpack all of it; return the rows it would copy into each table."""
        rows: dict[str, int] = {}
        with _told(saved) as lines:
            table = ""
            for line in lines:
                if table:
                    if line == b"\\.\n":
                        table = ""
                    else:
                        rows[table] += 1
                elif found := _COPY.match(line):
                    table = found[1].decode()
                    rows[table] = 0
        return rows

    def demand_nobody_else(self) -> None:
        """Refuse while web servers, workers or people are connected."""
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() "
                "AND pid <> pg_backend_pid() AND backend_type = 'client backend'"
            )
            (others,) = cursor.fetchone()
        if others:
            raise BackupRefused(
                f"{others} other connections to the database are open. Stop the web server, the "
                "workers and whoever else reads it first; nothing was changed."
            )

    def put_back(self, saved: Path, tables: dict[str, int], kept_as: str) -> str:
        """Drop, restore and count in one transaction: at any fault all is as it was."""
        with TemporaryDirectory(dir=saved.parent) as folder:
            first, dump, last = (Path(folder) / name for name in ("first", "dump", "last"))
            with connection.cursor() as cursor:
                there = connection.introspection.table_names(cursor)
                cursor.execute("SELECT current_schema()")
                (schema,) = cursor.fetchone()
                cursor.execute(FUNCTIONS)
                functions = [name for (name,) in cursor.fetchall()]
            first.write_text(_dropping(schema, there, functions))
            # Into a file first: a program that ends early at a pipe's far side looks like its end.
            _run("pg_restore", "--no-owner", "--no-privileges", f"--file={dump}", str(saved))
            last.write_text(_counting(schema, tables))
            connection.close()
            _run(
                *("psql", "--no-psqlrc", "--quiet", "--no-password", "--single-transaction"),
                *("--set=ON_ERROR_STOP=1", "--output=/dev/null"),
                *(f"--file={one}" for one in (first, dump, last)),
                *_where(),
            )
        return ""


def _dropping(schema: str, tables: list[str], functions: list[str]) -> str:
    quoted = connection.ops.quote_name
    names = ", ".join(f"{quoted(schema)}.{quoted(name)}" for name in sorted(tables))
    drop = f"DROP TABLE {names} CASCADE;\n" if names else ""
    drop += "".join(f"DROP FUNCTION {name} CASCADE;\n" for name in functions)
    return f"SET lock_timeout = '{LOCK_WAIT}';\n{drop}"


def _counting(schema: str, tables: dict[str, int]) -> str:
    """Fail inside the transaction when a table has not the rows that were written."""
    quoted = connection.ops.quote_name
    asks = "".join(
        f"  SELECT count(*) INTO found FROM {quoted(schema)}.{quoted(name)};\n"  # noqa: S608
        f"  IF found <> {rows} THEN RAISE EXCEPTION '{name}: % rows, {rows} were written', found;"
        " END IF;\n"
        for name, rows in sorted(tables.items())
    )
    return f"DO $counted$ DECLARE found bigint; BEGIN\n{asks}END $counted$;\n"


def _where() -> list[str]:
    """Say which database, without its password."""
    words, _ = connection.client.settings_to_cmd_args_env(connection.settings_dict, [])
    return list(words[1:])


def _environment() -> dict[str, str]:
    _, given = connection.client.settings_to_cmd_args_env(connection.settings_dict, [])
    return {**os.environ, **(given or {})}


def _program(name: str) -> str:
    found = shutil.which(name)
    if found is None:
        raise BackupRefused(
            f"The program {name} is not on this system. It comes with the client programs of "
            "PostgreSQL (Debian: postgresql-client), at least as new as the server."
        )
    return found


def _run(name: str, *words: str) -> None:
    done = subprocess.run(
        [_program(name), *words],
        env=_environment(),
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        raise BackupRefused(
            f"{name} failed; nothing was changed. It said: {_in_short(done.stderr)}"
        )


@contextmanager
def _told(saved: Path) -> Iterator[IO[bytes]]:
    """Yield what `pg_restore` would run, line by line; refuse the file when it cannot read it."""
    with subprocess.Popen(
        [_program("pg_restore"), "--file=-", str(saved)],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as program:
        assert program.stdout is not None
        assert program.stderr is not None
        yield program.stdout
        said = program.stderr.read().decode(errors="replace")
    if program.returncode:
        raise BackupRefused(f"The dump in the backup cannot be read: {_in_short(said)}")


def _in_short(said: str) -> str:
    """Take the line with the error out of what a program said."""
    lines = [line for line in said.splitlines() if line.strip()] or ["nothing"]
    return next((line for line in lines if "error" in line.lower()), lines[-1])[:300]
