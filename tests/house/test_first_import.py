"""What a web server loads to begin: nothing that only a search, a result or a paper needs.

The large libraries take longer to load than all of the project. Whoever needs one loads it:
`import scipy` brings in its parts when they are asked for, and the solvers and the drawing of
papers are imported by the function that uses them.
"""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from tests.house.tree import ROOT

LATER = ("ortools", "pandas", "scipy.optimize", "scipy.special", "scipy.stats", "weasyprint")
FIRST = "import sys; from tests.warm_process import load; load(); print(*sorted(sys.modules))"


@pytest.fixture(scope="module")
def loaded(tmp_path_factory: pytest.TempPathFactory) -> set[str]:
    """Every module of a web server that has begun."""
    env = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "showrun.project.settings",
        "SHOWRUN_DATA": str(tmp_path_factory.mktemp("data")),
    }
    done = subprocess.run(
        [sys.executable, "-c", FIRST], cwd=ROOT, env=env, capture_output=True, text=True, check=True
    )
    return set(done.stdout.split())


def test_all_pages_are_there(loaded: set[str]) -> None:
    assert {"judging.web.results", "reports.web.papers", "django.core.handlers.wsgi"} <= loaded


@pytest.mark.parametrize("library", LATER)
def test_a_large_library_waits_until_it_is_needed(library: str, loaded: set[str]) -> None:
    assert library not in loaded
