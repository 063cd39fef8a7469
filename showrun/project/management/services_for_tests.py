"""What the tests borrow from the machine: PostgreSQL, Redis, Chromium; found, or started for them.

Each finder returns what a test needs to know (an address, a path), or the reason it is left out.
"""

from __future__ import annotations

import contextlib
import getpass
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

import psycopg
import psycopg.sql
import redis

from showrun.project.supervisor import SupervisorError, broker_binary

# The one without a window first: the same engine, and a quarter less of the processor.
CHROMIUM_NAMES = (
    *("chromium-headless-shell", "chromium", "chromium-browser"),
    *("google-chrome", "google-chrome-stable"),
)
CHROMIUM_PLACES = (
    "~/.cache/ms-playwright/chromium-*/chrome-linux*/chrome",
    "~/Library/Caches/ms-playwright/chromium-*/chrome-mac*/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
)


@dataclass(frozen=True)
class Missing:
    """Why something is left out, and what to install to have it."""

    reason: str


def find_chromium(env: Mapping[str, str]) -> str | Missing:
    """Find a Chromium that the browser tests can drive."""
    named = env.get("TEST_CHROMIUM") or env.get("CHROMIUM")
    for name in [named] if named else CHROMIUM_NAMES:
        if found := shutil.which(name):
            return found
    if named:
        return Missing(f"{named} cannot be run; set CHROMIUM to a Chromium's path")
    for place in CHROMIUM_PLACES:
        folder = Path(place).expanduser()
        matches = sorted(Path(folder.anchor).glob(str(folder.relative_to(folder.anchor))))
        if matches:
            return str(matches[-1])
    return Missing("no Chromium found; install it (Debian/Ubuntu: apt install chromium)")


def free_port() -> int:
    """Return a TCP port nobody listens on."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        return int(server.getsockname()[1])


# -- Redis -----------------------------------------------------------------------------------


def redis_answers(url: str) -> bool:
    """Say whether a Redis can be worked with at this address."""
    try:
        with redis.Redis.from_url(url, socket_connect_timeout=2, socket_timeout=2) as client:
            return bool(client.ping())
    except redis.RedisError:
        return False


def find_or_start_redis(env: Mapping[str, str], until: ExitStack) -> str | Missing:
    """Give the address of a Redis: the one named, the usual one, or one started for the tests."""
    if named := env.get("TEST_REDIS_URL"):
        return named if redis_answers(named) else Missing(f"nothing answers at {named}")
    usual = "redis://127.0.0.1:6379/15"  # the last of its sixteen databases, least often in use
    if redis_answers(usual):
        return usual
    own = own_redis(until)
    return own if isinstance(own, Missing) else f"{own.url}/15"


@dataclass
class OwnRedis:
    """A throw-away Redis that keeps nothing; it can be killed and started again, empty."""

    command: list[str]
    url: str
    process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start it and wait until it answers; raises `TimeoutError`."""
        self.process = subprocess.Popen(self.command, stdout=subprocess.DEVNULL)
        give_up_at = time.monotonic() + 15
        while time.monotonic() < give_up_at and self.process.poll() is None:
            if redis_answers(self.url):
                return
            time.sleep(0.1)
        raise TimeoutError(f"{self.command[0]} did not start")

    def kill(self) -> None:
        """End it as a power cut would."""
        if self.process is not None:
            self.process.kill()
            self.process.wait()


def own_redis(until: ExitStack) -> OwnRedis | Missing:
    """Start a Redis for one test; it ends with `until`."""
    binary = shutil.which("redis-server") or shutil.which("valkey-server")
    if binary is None:
        try:
            binary = str(broker_binary())
        except SupervisorError:
            return Missing("no Redis found; install it (Debian/Ubuntu: apt install redis-server)")
    port = free_port()
    folder = until.enter_context(tempfile.TemporaryDirectory(prefix="showrun-redis-"))
    options = ["--bind", "127.0.0.1", "--port", str(port), "--dir", folder, "--save", ""]
    own = OwnRedis([binary, *options], f"redis://127.0.0.1:{port}")
    until.callback(own.kill)
    try:
        own.start()
    except TimeoutError as late:
        return Missing(str(late))
    return own


# -- PostgreSQL ------------------------------------------------------------------------------


def can_create_databases(url: str) -> bool:
    """Say whether the account in this address may create the tests' databases."""
    server = url.rsplit("/", 1)[0]
    asked = "SELECT rolcreatedb OR rolsuper FROM pg_roles WHERE rolname = current_user"
    try:
        with psycopg.connect(f"{server}/postgres", connect_timeout=3) as connection:
            row = connection.execute(asked).fetchone()
    except psycopg.Error:
        return False
    return bool(row and row[0])


def forget_databases(url: str) -> None:
    """Drop what a test run left behind, should it have been cut short."""
    server, name = url.rsplit("/", 1)
    pattern = f"test_{name}%".replace("_", r"\_")
    with (
        contextlib.suppress(psycopg.Error),
        psycopg.connect(f"{server}/postgres", autocommit=True, connect_timeout=3) as connection,
    ):
        asked = "SELECT datname FROM pg_database WHERE datname LIKE %s"
        for (left,) in connection.execute(asked, [pattern]).fetchall():
            drop = psycopg.sql.SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)")
            connection.execute(drop.format(psycopg.sql.Identifier(left)))


@contextlib.contextmanager
def fresh_database(server: str, name: str) -> Iterator[str]:
    """Make an empty PostgreSQL database and give its address; it is dropped afterwards."""
    called = psycopg.sql.Identifier(name)

    def run(words: str) -> None:
        with psycopg.connect(
            f"{server}/postgres", autocommit=True, connect_timeout=3
        ) as connection:
            connection.execute(psycopg.sql.SQL(words).format(called))  # type: ignore[arg-type]

    run("DROP DATABASE IF EXISTS {} WITH (FORCE)")
    run("CREATE DATABASE {}")
    try:
        yield f"{server}/{name}"
    finally:
        run("DROP DATABASE IF EXISTS {} WITH (FORCE)")


def find_or_start_postgres(env: Mapping[str, str], until: ExitStack) -> str | Missing:
    """Give the address of a PostgreSQL: the one named, the usual one, or one started for us."""
    if named := env.get("TEST_POSTGRES_URL"):
        usable = can_create_databases(named)
        return named if usable else Missing(f"{named} does not let this account create databases")
    own_name = f"showrun_{os.getpid()}"  # two test runs at once do not meet
    for user in dict.fromkeys((getpass.getuser(), "postgres")):
        url = f"postgres://{user}@127.0.0.1:5432/{own_name}"
        if can_create_databases(url):
            until.callback(forget_databases, url)
            return url
    own = own_postgres(until)
    return own if isinstance(own, Missing) else f"{own.url}/{own_name}"


def _postgres_programs() -> Path | None:
    """Find the folder with initdb and pg_ctl."""
    if (initdb := shutil.which("initdb")) and shutil.which("pg_ctl"):
        return Path(initdb).parent
    versions = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=_version_of)
    return versions[-1].parent if versions else None


def _version_of(initdb: Path) -> float:
    """Order PostgreSQL's folders by version, not by letter."""
    try:
        return float(initdb.parts[-3])
    except ValueError:
        return 0.0


@dataclass
class OwnPostgres:
    """A throw-away PostgreSQL; it can be stopped in the middle of anything and started again."""

    control: list[str]
    options: str
    log: Path
    url: str

    def start(self) -> None:
        """Start it and wait until it answers."""
        _quietly([*self.control, "-l", str(self.log), "-o", self.options, "start"])

    def stop(self) -> None:
        """Stop it as a power cut would: whoever talks to it loses the connection."""
        _quietly([*self.control, "-m", "immediate", "stop"])


def own_postgres(until: ExitStack) -> OwnPostgres | Missing:
    """Start a PostgreSQL; it is stopped and removed when the tests are over."""
    programs = _postgres_programs()
    if programs is None:
        return Missing("no PostgreSQL found; install it (Debian/Ubuntu: apt install postgresql)")
    as_user: list[str] = []
    if os.geteuid() == 0:  # PostgreSQL refuses to run as root
        if not (runuser := shutil.which("runuser")):
            return Missing("PostgreSQL does not run as root, and runuser is missing")
        as_user = [runuser, "-u", "postgres", "--"]
    folder, port = Path(tempfile.mkdtemp(prefix="showrun-pg-", dir="/tmp")), free_port()
    until.callback(shutil.rmtree, folder, ignore_errors=True)
    place = ["-D", str(folder / "data")]
    own = OwnPostgres(
        control=[*as_user, str(programs / "pg_ctl"), *place, "-w"],
        options=f"-p {port} -k {folder} -c listen_addresses=127.0.0.1 -c fsync=off",
        log=folder / "log",
        url=f"postgres://postgres@127.0.0.1:{port}",
    )
    try:
        if as_user:
            shutil.chown(folder, "postgres")
        made = [*as_user, str(programs / "initdb"), *place, "-U", "postgres", "-E", "UTF8"]
        _quietly([*made, "--auth=trust"])
        own.start()
    except (subprocess.CalledProcessError, LookupError, OSError) as error:
        return Missing(f"a PostgreSQL of its own could not be started ({error})")
    until.callback(own.stop)
    return own


def _quietly(command: list[str]) -> None:
    """Run a command from a folder any account may stand in; show what it says only if it fails."""
    done = subprocess.run(
        command,
        check=False,
        cwd="/",
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
    )
    if done.returncode:
        sys.stderr.write(done.stdout.decode(errors="replace"))
        done.check_returncode()
