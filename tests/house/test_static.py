"""The source as the tools see it: style, layout, types, and who imports whom."""

from __future__ import annotations

import subprocess
import sys
import sysconfig
from pathlib import Path

import pytest

from tests.house.tree import ROOT

pytestmark = pytest.mark.static
SCRIPTS = Path(sysconfig.get_path("scripts"))


def run(*command: str) -> None:
    """Run a tool over the whole tree; its own words are the failure's message."""
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    if done.returncode:
        pytest.fail(f"{' '.join(command)}\n\n{done.stdout}{done.stderr}", pytrace=False)


def test_ruff_finds_nothing() -> None:
    run(sys.executable, "-m", "ruff", "check", "--output-format", "concise", ".")


def test_every_file_is_laid_out_by_ruff() -> None:
    run(sys.executable, "-m", "ruff", "format", "--check", ".")


def test_the_types_hold() -> None:
    run(sys.executable, "-m", "mypy", ".")


def test_imports_point_down() -> None:
    run(str(SCRIPTS / "lint-imports"))
