"""A relay in front of the server, to do what networks and new versions do."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread

import httpx

HOP = {"connection", "transfer-encoding", "content-encoding", "content-length", "host"}
# Only what the server itself would send: no compression, so that bodies can be looked at.
PLAIN = {"accept-encoding": "identity"}


class Relay:
    """Passes everything on, except where told otherwise."""

    def __init__(self, target: str) -> None:
        self.target = target
        self.version = ""
        self.client = httpx.Client(timeout=30)
        self.server = ThreadingHTTPServer(("127.0.0.1", 0), self._handler())

    @property
    def url(self) -> str:
        """Where it listens."""
        return f"http://127.0.0.1:{self.server.server_address[1]}"

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
                reply = relay.client.request(
                    self.command,
                    relay.target + self.path,
                    headers={**sent, **PLAIN},
                    content=self.rfile.read(length),
                )
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
