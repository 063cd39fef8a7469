"""Several web processes for real: counts are summed, and no request is left in the middle."""

from __future__ import annotations

import os
import signal
import socket
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import httpx
import pytest
from prometheus_client.parser import text_string_to_metric_families

from tests.live import LiveShow

TOKEN = "a-long-token-for-the-tests"


class ManyProcesses(LiveShow):
    """The web server as the image starts it, with figures to be asked for."""

    @property
    def env(self) -> dict[str, str]:
        told = {
            name: value for name, value in super().env.items() if name != "PROMETHEUS_MULTIPROC_DIR"
        }
        return {**told, "METRICS_TOKEN": TOKEN}

    @property
    def web_words(self) -> list[str]:
        return [*super().web_words, "--workers", "2"]


@pytest.fixture
def web(tmp_path: Path) -> Iterator[ManyProcesses]:
    served = ManyProcesses(tmp_path / "data")
    served.migrate()
    served.start_web()
    yield served
    if served._web is not None and served._web.poll() is None:
        served.kill_web()


def pages_counted(web: LiveShow) -> float:
    headers = {"authorization": f"Bearer {TOKEN}"}
    told = httpx.get(f"{web.url}/metrics", headers=headers, timeout=20)
    assert told.status_code == 200
    return sum(
        one.value
        for family in text_string_to_metric_families(told.text)
        for one in family.samples
        if one.name == "showrun_http_requests_total" and one.labels["asked_for"] == "reports"
    )


def test_the_counts_of_all_processes_are_summed(web: ManyProcesses) -> None:
    asked, folder = 0, web.data / "metrics"
    while len(list(folder.glob("counter_*.db"))) < 2:
        asked += 1
        assert asked < 400, "one process took every request"
        assert httpx.get(f"{web.url}/", timeout=20).status_code == 200
    assert [pages_counted(web) for _ in range(4)] == [asked] * 4


def test_a_request_in_hand_is_answered_after_the_signal_to_stop(web: ManyProcesses) -> None:
    """A phone whose batch is half sent when the server is told to stop gets its answer."""
    body = b'{"email": "nobody"}'
    head = (
        "POST /api/v1/device/pair HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n"
        f"Content-Type: application/json\r\nContent-Length: {len(body)}\r\n\r\n"
    )
    assert web._web is not None
    with closing(socket.create_connection(("127.0.0.1", web.port), timeout=30)) as phone:
        phone.sendall(head.encode() + body[:5])
        # It is in hand once a thread has read its head, which its line in the log shows.
        while b"POST /api/v1/device/pair" not in web.web_log.read_bytes():
            assert web._web.poll() is None
        os.kill(web._web.pid, signal.SIGTERM)
        # The listening port is closed first; whoever comes then goes to another server.
        while _answers(web.port):
            pass
        phone.sendall(body[5:])
        answer = b"".join(iter(lambda: phone.recv(4096), b""))
    assert answer.startswith(b"HTTP/1.1 4"), answer[:200]
    assert b"application/problem+json" in answer
    assert web._web.wait(30) == 0


def _answers(port: int) -> bool:
    try:
        socket.create_connection(("127.0.0.1", port), timeout=5).close()
    except OSError:
        return False
    return True
