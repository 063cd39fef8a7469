"""How rows stand in an archive: a column's value as JSON, a row as a line."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import UTC, date, datetime, time
from decimal import Decimal
from typing import Any
from uuid import UUID

from reports.rules.archive import ArchiveRefused


def plain_value(value: Any) -> Any:
    """Return a column's value as JSON has it.

    Parameters
    ----------
    value : object
        None, text, number, truth value, date, time, instant that knows its zone, decimal, UUID,
        or what is JSON already.

    Raises
    ------
    ValueError
        For an instant that knows no zone.

    Source
    ------
    RFC 3339 (instants). The rest is our own rule.

    Examples
    --------
    >>> plain_value(datetime(2027, 5, 15, 14, 0, tzinfo=UTC)), plain_value(Decimal("7.50"))
    ('2027-05-15T14:00:00Z', '7.50')
    >>> plain_value(datetime(2027, 5, 15))
    Traceback (most recent call last):
    ...
    ValueError: an instant without a zone
    """
    if isinstance(value, datetime):
        if value.tzinfo is None:
            raise ValueError("an instant without a zone")
        return value.astimezone(UTC).isoformat().replace("+00:00", "Z")
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, Decimal):
        return f"{value:f}"
    return str(value) if isinstance(value, UUID) else value


def write_line(row: Mapping[str, Any]) -> bytes:
    """Write a row as one line of JSON.

    Raises
    ------
    ValueError
        For a number JSON does not know, such as infinity.

    Source
    ------
    RFC 8259 (JSON), one value a line. The rest is our own rule.

    Examples
    --------
    >>> write_line({"id": 4, "name": "Tin Sparrow"})
    b'{"id":4,"name":"Tin Sparrow"}\\n'
    """
    text = json.dumps(row, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return text.encode() + b"\n"


def read_line(line: bytes, table: str) -> dict[str, Any]:
    """Read a row of a table.

    Raises
    ------
    ArchiveRefused
        When the line is no JSON object.

    Source
    ------
    As `write_line`.

    Examples
    --------
    >>> read_line(b'{"id":4}\\n', "entries.entry")
    {'id': 4}
    """
    try:
        row = json.loads(line.decode())
    except (ValueError, RecursionError) as fault:
        raise ArchiveRefused(f"A row of {table} cannot be read.") from fault
    if not isinstance(row, dict):
        raise ArchiveRefused(f"A row of {table} cannot be read.")
    return row
