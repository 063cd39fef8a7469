"""What a phone was told is kept stays kept when the database goes, or the disk is full or stands.

Real servers that the test stops and fills; phones keep and send as real ones do. The web server is
never started again by hand, and while it cannot work it says so.
"""

from __future__ import annotations

import resource
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from threading import Barrier, Thread

import httpx
import pytest

from showrun.project.management.services_for_tests import Missing, own_postgres
from tests.browser.kept_show import JUDGES, ROWS, Field
from tests.soak.phone import BATCH, EVENTS, Phone
from tests.warm_show import WarmShow

PATIENCE_S = 120
pytestmark = pytest.mark.services


@dataclass
class Sending:
    """Phones that make touches and send them until the server has answered for each."""

    show: Field
    phones: list[Phone] = field(default_factory=list)

    @contextmanager
    def begun(self, n_events: int = 400) -> Iterator[Sending]:
        """Let four phones send; at the end each must have been answered for every touch."""
        places = [(entry, row) for entry in self.show.entries for row in ROWS]
        for k, judge in enumerate(JUDGES[:4]):
            token = self.show.stage["tokens"][judge]
            self.phones.append(Phone(self.show.url, token, places, 77 + k, n_events=n_events))
        gate = Barrier(len(self.phones))
        threads = [Thread(target=one.work, args=(gate,), daemon=True) for one in self.phones]
        for thread in threads:
            thread.start()
        yield self
        for thread in threads:
            thread.join(timeout=PATIENCE_S)
        assert [(one.faults, one.waiting) for one in self.phones] == [([], [])] * len(self.phones)

    @property
    def answered(self) -> int:
        """How many touches were answered for."""
        return sum(len(one.answered) for one in self.phones)

    @property
    def wanted(self) -> int:
        """How many touches there are to be."""
        return sum(one.n_events for one in self.phones)

    def until(self, share: float) -> None:
        """Wait until this share of all touches was answered for."""
        until_true(lambda: self.answered >= share * self.wanted)

    def demand_all_kept(self) -> None:
        """Every touch is in the database once, and the cards stand as the phones left them."""
        for judge, phone in zip(JUDGES, self.phones, strict=False):
            kept = [one.id for one in self.show.events(judge)]
            assert sorted(kept) == sorted(phone.made)
            stands = {(one.entry, one.criterion): one.mark for one in self.show.marks(judge)}
            assert stands == phone.expected()


def until_true(is_so: Callable[[], bool]) -> None:
    """Wait until something is so."""
    deadline = time.monotonic() + PATIENCE_S
    while not is_so():
        assert time.monotonic() < deadline
        time.sleep(0.02)


def demand_said(answer: httpx.Response) -> None:
    """It says what is wrong, that what was kept is kept, and when to come again."""
    assert answer.status_code == 503, answer.text
    assert int(answer.headers["Retry-After"]) > 0
    assert "cannot be reached or written" in answer.text
    if answer.request.url.path.startswith("/api/"):
        assert answer.headers["Content-Type"] == "application/problem+json"
        assert answer.json()["code"] == "unavailable"


def touch_of(show: Field, judge: str) -> tuple[dict[str, str], dict[str, object]]:
    """The head and the body of one touch of a judge who gives nothing else."""
    phone = Phone("", "", [(show.entries[0], ROWS[0])], seed=5, n_events=1)
    phone.touch()
    token = show.stage["tokens"][judge]
    return {"Authorization": f"Bearer {token}"}, {"unsent": 1, "events": [*phone.made.values()]}


def test_the_database_stops_while_phones_send(tmp_path: Path) -> None:
    with ExitStack() as until:
        postgres = own_postgres(until)
        if isinstance(postgres, Missing):
            pytest.skip(postgres.reason)
        live = WarmShow(tmp_path, f"{postgres.url}/postgres")
        until.callback(live.close)
        live.migrate()
        live.start_web()
        show = Field.prepare(live)
        with Sending(show).begun() as sending:
            sending.until(0.2)
            postgres.stop()
            try:
                demand_said(httpx.get(f"{live.url}/", timeout=30))
                head, body = touch_of(show, JUDGES[4])
                demand_said(httpx.post(live.url + EVENTS, json=body, headers=head, timeout=30))
                # The process is well, and must not be killed for it; it must get no visitors.
                assert httpx.get(f"{live.url}/healthz", timeout=30).status_code == 200
                assert httpx.get(f"{live.url}/readyz", timeout=30).status_code == 503
                assert sending.answered < sending.wanted
            finally:
                postgres.start()
        sending.demand_all_kept()
        assert httpx.get(f"{live.url}/readyz", timeout=30).status_code == 200


@pytest.fixture
def on_sqlite(tmp_path: Path) -> Iterator[Field]:
    live = WarmShow(tmp_path)
    live.migrate()
    live.start_web()
    yield Field.prepare(live)
    live.close()


def children(pid: int) -> list[int]:
    """The processes that this one has started."""
    stats = {path: path.read_text() for path in Path("/proc").glob("[0-9]*/stat")}
    return [
        int(p.parent.name) for p, s in stats.items() if int(s.rpartition(")")[2].split()[1]) == pid
    ]


def test_no_room_is_left_while_phones_send(on_sqlite: Field) -> None:
    """The running web server may write no byte more, as on a full disk; then there is room."""
    live = on_sqlite.live
    assert live._web is not None
    (process,) = children(live._web.pid)
    with Sending(on_sqlite).begun() as sending:
        sending.until(0.2)
        usual = resource.prlimit(process, resource.RLIMIT_FSIZE, (0, resource.RLIM_INFINITY))
        try:
            head, body = touch_of(on_sqlite, JUDGES[4])
            demand_said(httpx.post(live.url + EVENTS, json=body, headers=head, timeout=30))
            assert httpx.get(f"{live.url}/", timeout=30).status_code == 200  # what is there is read
            assert sending.answered < sending.wanted
        finally:
            resource.prlimit(process, resource.RLIMIT_FSIZE, usual)
    sending.demand_all_kept()
    assert on_sqlite.events(JUDGES[4]) == []
    again = httpx.post(live.url + EVENTS, json=body, headers=head, timeout=30)
    assert again.status_code == 200
    assert len(on_sqlite.events(JUDGES[4])) == 1


def test_a_disk_that_stands_still_costs_only_time(on_sqlite: Field) -> None:
    """Nobody else can write for a while, as beside a slow disk; pages are read all the same."""
    with Sending(on_sqlite).begun() as sending:
        sending.until(0.2)
        with closing(on_sqlite.connect()) as other:
            other.execute("BEGIN IMMEDIATE")
            before = sending.answered
            assert httpx.get(f"{on_sqlite.url}/", timeout=30).status_code == 200
            time.sleep(3)
            # What was on its way was answered for; nothing more is.
            assert sending.answered <= before + len(sending.phones) * BATCH
            other.execute("ROLLBACK")
    sending.demand_all_kept()
