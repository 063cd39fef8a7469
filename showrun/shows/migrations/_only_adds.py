"""Make a table one whose lines are added, and neither edited nor removed, whoever asks.

Migrations build on this. A table that SQLite makes anew for a later change loses its triggers;
`tests/actions/test_only_adds.py` asks for them and fails then: put the same operation after such
a change.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from django.db.migrations import RunPython

REFUSAL = "Lines of this table are added, never edited or removed."
# The server's own class for broken rules, so that callers get an `IntegrityError`.
FUNCTION = f"""
CREATE OR REPLACE FUNCTION only_adds() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '{REFUSAL}' USING ERRCODE = 'integrity_constraint_violation',
        TABLE = TG_TABLE_NAME;
END $$
"""
Step = Callable[[Any, Any], None]


def only_adds(table: str, fixed: Sequence[str] = ()) -> RunPython:
    """Return the operation for one table; with `fixed`, its other columns may still be edited.

    Statement by statement it takes no more than a table's lock for a moment, and gives up after
    five seconds rather than hold a running show behind it. What runs already only adds.
    """

    def put_on(_: Any, editor: Any) -> None:
        postgres = editor.connection.vendor == "postgresql"
        quote = editor.quote_name
        differs = "IS DISTINCT FROM" if postgres else "IS NOT"
        parts = [f"OLD.{quote(name)} {differs} NEW.{quote(name)}" for name in fixed]
        when = f" WHEN ({' OR '.join(parts)})" if parts else ""
        does = (
            "EXECUTE FUNCTION only_adds()"
            if postgres
            else f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
        )
        if postgres:
            editor.execute("SET LOCAL lock_timeout = '5s'")
            editor.execute(FUNCTION, params=None)
        for verb, condition in (("UPDATE", when), ("DELETE", "")):
            name = quote(f"{table}_no_{verb.lower()}")
            editor.execute(
                f"CREATE TRIGGER {name} BEFORE {verb} ON {quote(table)} "
                f"FOR EACH ROW{condition} {does}",
                params=None,
            )

    def take_off(_: Any, editor: Any) -> None:
        on = f" ON {editor.quote_name(table)}" if editor.connection.vendor == "postgresql" else ""
        for verb in ("update", "delete"):
            editor.execute(f"DROP TRIGGER {editor.quote_name(f'{table}_no_{verb}')}{on}")

    return RunPython(put_on, take_off)
