"""The project's own files, as these tests look at them."""

from __future__ import annotations

import os
from collections.abc import Iterator
from fnmatch import fnmatch
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
APPS = ("showrun", "entries", "judging", "reports")


def _ignored() -> list[str]:
    """The names that `.gitignore` leaves out, without their slashes."""
    lines = (ROOT / ".gitignore").read_text().splitlines()
    return [".git", *(line.strip("/ ") for line in lines if line and not line.startswith("#"))]


@cache
def project_files() -> tuple[Path, ...]:
    """Every file that belongs to the project, by path from its root; works without git."""
    patterns = _ignored()

    def keep(name: str) -> bool:
        return not any(fnmatch(name, pattern) for pattern in patterns)

    def walk() -> Iterator[Path]:
        for folder, folders, files in os.walk(ROOT):
            folders[:] = sorted(filter(keep, folders))
            here = Path(folder).relative_to(ROOT)
            yield from (here / name for name in sorted(filter(keep, files)))

    return tuple(walk())


def files_ending(*endings: str) -> list[Path]:
    """The project's files with one of these endings."""
    return [path for path in project_files() if path.name.endswith(endings)]


def read(path: Path) -> str:
    """A project file's text."""
    return (ROOT / path).read_text(encoding="utf-8")


def rule_files() -> list[Path]:
    """Every module in a `rules` room of an app."""
    return [
        path
        for path in files_ending(".py")
        if path.parts[0] in APPS and "rules" in path.parts and path.name != "__init__.py"
    ]
