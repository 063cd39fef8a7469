"""The hand-written table of who may go where: `doors/access_table.txt`.

A line: method, address, the form sent if any, a word for each visitor. A line set in below it says
how that differs in one phase of the show: `judging: owner=404 judge=in`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tests.everybody import PHASES, VISITORS, Cast

TABLE = Path(__file__).parent / "doors" / "access_table.txt"


@dataclass(frozen=True)
class Row:
    """One address, method and form, with the word expected for each visitor."""

    method: str
    route: str
    form: str
    words: dict[str, str]
    differs: dict[str, dict[str, str]] = field(default_factory=dict)

    def __str__(self) -> str:
        return " ".join((self.method, self.route, self.form))

    def expected(self, phase: str) -> dict[str, str]:
        return self.words | self.differs.get(phase, {})


def read_rows(text: str) -> list[Row]:
    """Read the table; a line that cannot be read is a fault of the table."""
    rows: list[Row] = []
    for line in text.splitlines():
        if not line.strip() or line.startswith("#"):
            continue
        if line.startswith(" "):
            phase, _, told = line.strip().partition(":")
            differs = dict(word.split("=") for word in told.split())
            assert phase in PHASES and differs.keys() <= set(VISITORS), line
            rows[-1].differs[phase] = differs
            continue
        method, route, *rest = line.split()
        form = rest.pop(0) if len(rest) > len(VISITORS) else ""
        assert len(rest) == len(VISITORS), line
        rows.append(Row(method, route, form, dict(zip(VISITORS, rest, strict=True))))
    return rows


ROWS = read_rows(TABLE.read_text(encoding="utf-8"))


def ask(cast: Cast, visitor: str, row: Row) -> Any:
    """Send the row's request as the visitor."""
    client, address = cast.client(visitor), cast.address(row.route)
    if row.method == "GET":
        return client.get(address)
    if "api/" in address:
        return client.generic(row.method, address, "{}", content_type="application/json")
    kind = "application/x-www-form-urlencoded"
    return client.post(address, cast.address(row.form), content_type=kind)


def word_for(answered: Any) -> str:
    """Say in the table's words what became of the visitor."""
    status = answered.status_code
    if status == 302 and answered["Location"].startswith("/sign-in/?next="):
        return "sign"
    return str(status) if status in (401, 403, 404, 405) or status >= 500 else "in"
