"""Whether what the service stands on is there, in words that tell no secret.

Some of it the service cannot do without; of the rest it says so and goes on. A broker that is away
keeps papers and plans waiting, and no judge's phone: taking the web pages off the air for it would
turn a late paper into a stopped show.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from concurrent.futures import TimeoutError as TooLate
from pathlib import Path
from typing import NamedTuple, TypeVar

import structlog
from celery import current_app
from django.conf import settings
from django.core.files.storage import FileSystemStorage, default_storage
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from kombu.exceptions import ChannelError

log = structlog.get_logger(__name__)

PATIENCE_S = 2.0  # a probe waits no longer for any one of them
ROOM = 64 * 1024 * 1024  # bytes; below it a busy hour can fill the disk
MIB = 1024 * 1024
T = TypeVar("T")
# A store that hangs holds one of these threads, and no thread that answers requests.
_ASKING = ThreadPoolExecutor(max_workers=2, thread_name_prefix="standing")


class Fault(NamedTuple):
    """What is wrong, and whether the service can go on all the same."""

    words: str
    stops: bool


def faults() -> list[Fault]:
    """Return everything that is wrong, what stops the service first."""
    found = [_database(), _room(), _broker(), _files()]
    return sorted((one for one in found if one), key=lambda fault: not fault.stops)


def queue_lengths(queues: Sequence[str]) -> dict[str, int] | None:
    """Return how many tasks wait in each queue; None when the broker does not answer."""
    asked = _ASKING.submit(_lengths, tuple(queues))
    return _answer(asked, "broker")


def _database() -> Fault | None:
    try:
        executor = MigrationExecutor(connection)
        waiting = executor.migration_plan(executor.loader.graph.leaf_nodes())
    except DatabaseError:
        return Fault("The database does not answer.", stops=True)
    if waiting:
        return Fault(f"{len(waiting)} migrations wait.", stops=True)
    return None


def _room() -> Fault | None:
    """Ask for room where SQLite must write; elsewhere only papers and logs lack it."""
    free = shutil.disk_usage(settings.DATA).free
    if free >= ROOM:
        return None
    words = f"The disk of the data has {free // MIB} MiB left; at least {ROOM // MIB} are needed."
    return Fault(words, stops=connection.vendor == "sqlite")


def _broker() -> Fault | None:
    if queue_lengths(()) is None:
        return Fault("The broker does not answer; papers and plans wait.", stops=False)
    return None


def _files() -> Fault | None:
    words = "Papers and photos cannot be kept: "
    if isinstance(default_storage, FileSystemStorage):
        here = Path(default_storage.location)
        there = next(one for one in (here, *here.parents) if one.exists())
        if not os.access(there, os.W_OK):
            return Fault(f"{words}their folder cannot be written to.", stops=False)
    elif _answer(_ASKING.submit(default_storage.exists, "ready"), "bucket") is None:
        return Fault(f"{words}the bucket does not answer.", stops=False)
    return None


def _lengths(queues: Sequence[str]) -> dict[str, int]:
    with current_app.connection_for_read() as broker:
        broker.transport_options = {
            **(broker.transport_options or {}),
            "socket_connect_timeout": PATIENCE_S,
            "socket_timeout": PATIENCE_S,
        }
        with broker.channel() as channel:
            return {queue: _length(channel, queue) for queue in queues}


def _length(channel: object, queue: str) -> int:
    try:
        return int(channel.queue_declare(queue, passive=True).message_count)  # type: ignore[attr-defined]
    except ChannelError:  # nothing has waited there yet
        return 0


def _answer(asked: Future[T], what: str) -> T | None:
    try:
        return asked.result(PATIENCE_S + 0.5)
    except TooLate:
        asked.cancel()
    except Exception as fault:
        # Its words may hold an address with a password.
        log.warning("does not answer", what=what, fault=type(fault).__name__)
    return None
