"""A relay in front of the server, to do what networks and new versions do."""

from __future__ import annotations

import random
import re
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from enum import StrEnum
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Lock, Thread

import httpx

HOP = {"connection", "transfer-encoding", "content-encoding", "content-length", "host"}
# Only what the server itself would send: no compression, so that bodies can be looked at.
PLAIN = {"accept-encoding": "identity"}


class Trouble(StrEnum):
    """What a line does to one request or to its answer."""

    NONE = "passed on"
    REQUEST_LOST = "request lost"
    ANSWER_LOST = "answer lost"
    DELAYED = "answer delayed"
    REPEATED = "request repeated"
    LATE = "request after the next one"
    SWAPPED = "answer of the one before"
    STALE = "answer of the one before, request lost"


@dataclass(frozen=True)
class Asked:
    """One request as it came."""

    method: str
    path: str
    headers: dict[str, str]
    body: bytes


@dataclass
class BadLine:
    """Deals every trouble to each of some addresses, shuffled by a seed; then the line is well."""

    paths: tuple[str, ...]
    seed: int
    met: list[Trouble] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Shuffle the troubles."""
        self.chances = random.Random(self.seed)
        # Dealt from the end; the first is well, so that there is an answer of the one before.
        self._decks = {
            path: [*self.chances.sample(list(Trouble), len(Trouble)), Trouble.NONE]
            for path in self.paths
        }
        self._lock = Lock()
        self._late: list[Asked] = []
        self._answers: dict[str, httpx.Response] = {}

    @property
    def left(self) -> int:
        """How many troubles are still to come."""
        return sum(map(len, self._decks.values()))

    def carry(self, relay: Relay, asked: Asked) -> httpx.Response | None:
        """Pass a request on, or not; return what its sender hears, None for a cut line."""
        if asked.path not in self.paths:
            return relay.ask(asked)
        with self._lock:
            deck = self._decks[asked.path]
            trouble = deck.pop() if deck else Trouble.NONE
            self.met.append(trouble)
            late, self._late = self._late, []
            heard = self._meet(relay, asked, trouble)
            for one in late:
                relay.ask(one)
        return heard

    def _meet(self, relay: Relay, asked: Asked, trouble: Trouble) -> httpx.Response | None:
        if trouble == Trouble.REQUEST_LOST:
            return None
        if trouble == Trouble.LATE:
            self._late.append(asked)
            return None
        if trouble == Trouble.STALE:
            return self._answers.get(asked.path)
        answer = relay.ask(asked)
        before = self._answers.get(asked.path, answer)
        self._answers[asked.path] = answer
        if trouble == Trouble.ANSWER_LOST:
            return None
        if trouble == Trouble.DELAYED:
            time.sleep(self.chances.uniform(0.1, 0.5))
        if trouble == Trouble.REPEATED:
            return relay.ask(asked)
        return before if trouble == Trouble.SWAPPED else answer


class Relay:
    """Passes everything on, except where told otherwise."""

    def __init__(self, target: str) -> None:
        self.target = target
        self.version = ""
        self.broken = ""  # an address at which the line breaks
        self.line: BadLine | None = None
        self.client = httpx.Client(timeout=30)
        self.server = ThreadingHTTPServer(("127.0.0.1", 0), self._handler())

    @property
    def url(self) -> str:
        """Where it listens."""
        return f"http://127.0.0.1:{self.server.server_address[1]}"

    def pass_on(self, asked: Asked) -> httpx.Response | None:
        """Answer as the server does, unless the line has other plans; None for a cut line."""
        if self.broken and asked.path.startswith(self.broken):
            return None
        return self.line.carry(self, asked) if self.line else self.ask(asked)

    def ask(self, asked: Asked) -> httpx.Response:
        """Ask the server."""
        return self.client.request(
            asked.method,
            self.target + asked.path,
            headers={**asked.headers, **PLAIN},
            content=asked.body,
        )

    def change(self, path: str, body: bytes) -> bytes:
        """Give the worker another version once one is set, as a new release does."""
        if path == "/round/worker.js" and self.version:
            new = f'"version": "{self.version}"'.encode()
            return re.sub(rb'"version": "\w+"', new, body)
        return body

    def _handler(self) -> type[BaseHTTPRequestHandler]:
        relay = self

        class Handler(BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def answer(self) -> None:
                length = int(self.headers.get("Content-Length") or 0)
                sent = {k: v for k, v in self.headers.items() if k.lower() not in HOP}
                asked = Asked(self.command, self.path, sent, self.rfile.read(length))
                reply = relay.pass_on(asked)
                if reply is None:
                    self.close_connection = True
                    return
                body = relay.change(self.path, reply.content)
                self.send_response(reply.status_code)
                for name, value in reply.headers.items():
                    if name.lower() not in HOP:
                        self.send_header(name, value)
                if reply.status_code != 304:
                    self.send_header("Content-Length", str(len(body)))
                self.end_headers()
                with suppress(BrokenPipeError):  # a browser that went away
                    self.wfile.write(body)

            do_GET = do_POST = do_HEAD = answer

            def log_message(self, *args: object) -> None:
                """Say nothing."""

        return Handler


@contextmanager
def relayed(target: str) -> Iterator[Relay]:
    """Run a relay for the length of a block."""
    relay = Relay(target)
    thread = Thread(target=relay.server.serve_forever, daemon=True)
    thread.start()
    try:
        yield relay
    finally:
        relay.server.shutdown()
        relay.server.server_close()
        relay.client.close()
        thread.join()
