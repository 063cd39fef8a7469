"""The container files name only what the project has. (They are not built here.)"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
import yaml

from reports.models import Paper
from reports.rules.queues import queue_of

ROOT = Path(__file__).resolve().parents[2]
DOCKERFILE = (ROOT / "docker/Dockerfile").read_text()
SETTINGS = "".join(
    path.read_text() for path in sorted((ROOT / "showrun/project/settings").glob("*.py"))
)


@pytest.fixture
def services() -> dict[str, Any]:
    """The services that compose.yaml starts."""
    loaded: dict[str, Any] = yaml.safe_load((ROOT / "docker/compose.yaml").read_text())["services"]
    return loaded


def copied() -> set[str]:
    """Return what the Dockerfile copies from the project."""
    lines = re.findall(r"^COPY (.+) \S+$", DOCKERFILE, re.MULTILINE)
    return {name.rstrip("/") for line in lines for name in line.split()}


def test_everything_copied_is_there() -> None:
    assert {"manage.py", "requirements.lock", "showrun"} <= copied()
    assert [name for name in copied() if not (ROOT / name).exists()] == []


def test_every_app_is_copied() -> None:
    apps = {path.parent.name for path in ROOT.glob("*/apps.py")}
    assert len(apps) >= 3
    assert apps <= copied()


def test_the_image_needs_no_venv_and_no_rights() -> None:
    assert "SHOWRUN_NO_VENV=1" in DOCKERFILE
    assert re.search(r"^USER (?!root)", DOCKERFILE, re.MULTILINE)
    assert "/healthz" in DOCKERFILE


def test_the_image_brings_every_library_the_papers_need() -> None:
    message = (ROOT / "manage.py").read_text()
    packages = re.search(r"apt install ((?:lib\S+ )+)", message)
    assert packages is not None
    assert [name for name in packages[1].split() if name not in DOCKERFILE] == []


def test_every_variable_is_one_the_settings_read(services: dict[str, Any]) -> None:
    known = set(re.findall(r'env\.\w+\(\s*"(\w+)"', SETTINGS))
    given = set(services["web"]["environment"])
    assert given
    assert given <= known
    table = re.findall(r"^\| (`.+?`) \|", (ROOT / "docker/README.md").read_text(), re.MULTILINE)
    documented = set(re.findall(r"`(\w+)`", " ".join(table)))
    assert given <= documented
    assert documented <= known | {"DJANGO_SETTINGS_MODULE"}


def test_every_queue_has_a_worker(services: dict[str, Any]) -> None:
    commands = [service.get("command", []) for service in services.values()]
    given = [command[command.index("-Q") + 1] for command in commands if "-Q" in command]
    served = {queue for queues in given for queue in queues.split(",")}
    used = {queue_of(kind) for kind in Paper.Kind.values}
    used |= set(re.findall(r'"queue": "(\w+)"', SETTINGS))
    used |= set(re.findall(r'TASK_DEFAULT_QUEUE = "(\w+)"', SETTINGS))
    assert used == served


def test_work_waits_for_the_migration(services: dict[str, Any]) -> None:
    for name in ("web", "worker-default", "worker-bulk", "beat"):
        condition = services[name]["depends_on"]["migrate"]["condition"]
        assert condition == "service_completed_successfully"
