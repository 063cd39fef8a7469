"""A show of its own for counting touches: three wagons of three rows, many judges, real servers.

`Field.prepare` builds it in the database of a service, SQLite or PostgreSQL, by the real actions
in one of its processes. Every judge looks at every row of every wagon.
"""

from __future__ import annotations

import json
import sqlite3
import time
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from typing import Any
from uuid import UUID

import psycopg

from judging.rules.cards.scorecard import Mark, MarkState
from showrun.project.demo.drive import Person
from tests.live import LiveShow

SLUG = "nothing-lost"
WAGONS = 3
# One each for the stories of one phone, and twenty for the phones that come back at once.
SINGLE, CROWD = 7, 20
JUDGES = [f"J{k + 1}" for k in range(SINGLE + CROWD)]

ROW = {"max_mark": 10, "step": 1}
CARD: dict[str, Any] = {
    "name": "Wheels and fire",
    "version": 1,
    "sections": [
        {
            "code": "wheels",
            "name": "Wheels",
            "points": 60,
            "minutes": 3,
            "criteria": [
                {"code": "spokes", "name": "Spokes and felloes", **ROW},
                {"code": "tires", "name": "Tires", **ROW},
            ],
        },
        {
            "code": "fire",
            "name": "Fire",
            "points": 40,
            "minutes": 2,
            "criteria": [
                {"code": "water", "name": "Water at hand", **ROW},
            ],
        },
    ],
}
ROWS = [row["code"] for section in CARD["sections"] for row in section["criteria"]]


def build(base: str) -> None:
    """Plan the show, draw its panel and pair the phones without a screen; print it as JSON."""
    from django.utils import timezone

    from entries.models import Entry
    from judging.actions.pair_device import make_pairing_code, pair_device
    from judging.models import Judge
    from showrun.project.demo.links import sign_in_link
    from tests import judged_show as stage

    show = stage.build_show(
        slug=SLUG,
        n_entries=WAGONS,
        n_judges=len(JUDGES),
        judges_per_section=len(JUDGES),
        kin=False,
        scorecard=CARD,
    )
    stage.draw_panel(show)
    now = timezone.now()
    codes: dict[str, list[str]] = {}
    tokens: dict[str, str] = {}
    for judge in Judge.objects.filter(show=show).select_related("show", "person"):
        code, *rest = [make_pairing_code(judge=judge, by=None, at=now)[1] for _ in "abc"]
        codes[judge.code] = rest
        tokens[judge.code] = pair_device(code=code, label="No screen", at=now)[1]
    entries = Entry.objects.filter(show=show).order_by("number").values_list("pk", flat=True)
    link = sign_in_link(stage.office_of(show), base)
    print(json.dumps({"codes": codes, "tokens": tokens, "entries": [*entries], "link": link}))


@dataclass(frozen=True)
class KeptEvent:
    """An event as the database has it."""

    id: str
    device: int
    seq: int
    kind: str
    body: dict[str, Any]
    applied: bool
    reason_code: str
    unsettled: bool


@dataclass(frozen=True)
class KeptMark:
    """A mark as it stands on a card, and the event that gave it."""

    entry: int
    criterion: str
    mark: Mark
    event: str


EVENTS = """
SELECT e.id, e.device_id, e.seq, e.kind, e.body, e.applied, e.reason_code, e.settled_at
FROM judging_roundevent e
JOIN judging_device d ON d.id = e.device_id JOIN judging_judge j ON j.id = d.judge_id
JOIN shows_show s ON s.id = j.show_id WHERE s.slug = '{slug}' AND j.code = '{judge}'
ORDER BY e.device_id, e.seq
"""
MARKS = """
SELECT c.entry_id, r.code, m.state, m.value, m.event_id
FROM judging_cardmark m JOIN judging_card c ON c.id = m.card_id
JOIN judging_criterion r ON r.id = m.criterion_id JOIN judging_judge j ON j.id = c.judge_id
JOIN shows_show s ON s.id = j.show_id WHERE s.slug = '{slug}' AND j.code = '{judge}'
AND m.state <> 'empty'
"""


@dataclass
class Field:
    """The show as a test handles it, and what its database has."""

    live: LiveShow
    stage: dict[str, Any]

    @classmethod
    def prepare(cls, live: LiveShow) -> Field:
        """Build the show in the service's database, which is there."""
        source = f"from tests.browser import kept_show as here; here.build({live.url!r})"
        printed = live.manage("shell", "--no-imports", "-c", source)
        return cls(live, json.loads(printed.splitlines()[-1]))

    @property
    def url(self) -> str:
        """Where it is served."""
        return self.live.url

    @property
    def entries(self) -> list[int]:
        """The wagons in the order of their numbers."""
        return list(self.stage["entries"])

    def pairing_link(self, judge: str) -> str:
        """Return an address that pairs whoever opens it with the judge, once."""
        return f"{self.url}/round/#pair={self.stage['codes'][judge].pop()}"

    @cached_property
    def office(self) -> Person:
        """The show secretary, signed in."""
        return Person(self.url, self.stage["link"])

    # --- What the database has, read past the service -----------------------------------------

    def events(self, judge: str) -> list[KeptEvent]:
        """Every event of the judge's phones, by phone and its count."""
        return [
            KeptEvent(
                id=str(UUID(str(key))),
                device=device,
                seq=seq,
                kind=kind,
                body=json.loads(body) if isinstance(body, str) else body,
                applied=bool(applied),
                reason_code=code,
                unsettled=settled is None,
            )
            for key, device, seq, kind, body, applied, code, settled in self._ask(EVENTS, judge)
        ]

    def marks(self, judge: str) -> list[KeptMark]:
        """Every mark that stands on the judge's cards."""
        return [
            KeptMark(
                entry=entry,
                criterion=row,
                mark=Mark(MarkState(state), None if value is None else Decimal(str(value))),
                event=str(UUID(str(event))),
            )
            for entry, row, state, value, event in self._ask(MARKS, judge)
        ]

    def _ask(self, question: str, judge: str) -> list[tuple[Any, ...]]:
        with closing(self.connect()) as connection:
            return list(connection.execute(question.format(slug=SLUG, judge=judge)).fetchall())

    def connect(self) -> Any:
        """Connect to the database, beside the service."""
        if self.live.database:
            return psycopg.connect(self.live.database, autocommit=True)
        return sqlite3.connect(self.live.sqlite_file, timeout=20, isolation_level=None)

    # --- A server that stands still in the middle of a batch ----------------------------------

    @contextmanager
    def stuck_in_a_batch(self) -> Iterator[Stuck]:
        """While this lasts, a batch gets as far as its events; its marks are not written yet."""
        with closing(self.connect()) as connection, ExitStack() as until:
            if self.live.database:
                connection.execute("BEGIN")
                until.callback(connection.execute, "ROLLBACK")
                connection.execute("LOCK TABLE judging_cardmark IN EXCLUSIVE MODE")
            else:
                connection.execute(ENDLESS_MARK)
                until.callback(connection.execute, "DROP TRIGGER endless_mark")
            yield Stuck(self)


# SQLite has no lock on a table: whoever writes a mark is kept counting instead.
ENDLESS_MARK = f"""
CREATE TRIGGER endless_mark AFTER INSERT ON judging_cardmark BEGIN
SELECT count(*) FROM {", ".join(f"judging_seat s{k}" for k in range(9))};
END
"""
WAITING_FOR_MARKS = """
SELECT count(*) FROM pg_locks WHERE NOT granted AND relation = 'judging_cardmark'::regclass
AND database = (SELECT oid FROM pg_database WHERE datname = current_database())
"""


@dataclass
class Stuck:
    """Tells when the server has come to the place where it stands still."""

    field: Field

    def wait(self) -> None:
        """Return once a batch stands still between its events and its marks."""
        with closing(self.field.connect()) as connection:
            until = time.monotonic() + 20
            while time.monotonic() < until:
                if self._inside(connection):
                    return
                time.sleep(0.02)
        raise AssertionError("No batch came as far as its marks.")

    def _inside(self, connection: Any) -> bool:
        if self.field.live.database:
            return bool(connection.execute(WAITING_FOR_MARKS).fetchone()[0])
        # A writer that keeps the lock this long is inside the count.
        connection.execute("PRAGMA busy_timeout = 700")
        try:
            connection.execute("BEGIN IMMEDIATE")
        except sqlite3.OperationalError:
            return True
        connection.execute("ROLLBACK")
        return False
