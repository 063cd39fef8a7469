"""What a run claims for itself: a port to listen on, and a data directory nobody else uses."""

from __future__ import annotations

import errno
import fcntl
import socket
from pathlib import Path


class SupervisorError(Exception):
    """Something the person at the terminal can act on; the message says how."""


class PortTaken(SupervisorError):
    """Another program already listens where the web pages should be."""


def listen_on(host: str, port: int) -> socket.socket:
    """Open the listening socket; port 0 takes any free one."""
    try:
        family, _, _, _, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
        return socket.create_server(address, family=family, backlog=512)
    except OSError as error:
        if error.errno == errno.EADDRINUSE:
            raise PortTaken(
                f"Port {port} on {host} is taken by another program. "
                f"Choose another with --port, for example --port {min(port + 1, 65535)}."
            ) from None
        if error.errno == errno.EACCES:
            raise PortTaken(
                f"This account may not listen on port {port}. "
                "Choose one above 1023 with --port, for example --port 8000."
            ) from None
        raise SupervisorError(f"Cannot listen on {host} port {port}: {error}") from None


def check_port(host: str, port: int) -> None:
    """Raise PortTaken when nothing can listen on this port."""
    listen_on(host, port).close()


def data_in_use(data_dir: Path) -> bool:
    """Say whether a run holds this data directory."""
    lock = data_dir / "running.lock"
    if not lock.exists():
        return False
    with lock.open("a+") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return True
    return False
