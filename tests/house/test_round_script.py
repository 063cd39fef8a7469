"""The round's script: what is served is what its sources give, byte for byte."""

from __future__ import annotations

import gzip
import hashlib
import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest
from django.core.management import call_command

from tests.house.tree import ROOT, project_files, read

HOME = Path("judging/round_script")
SERVED = Path("judging/static/judging/offline")
WORDS = Path("judging/locale/es/LC_MESSAGES/djangojs.po")
LARGEST = 60_000  # bytes of the page's script as it travels, packed
NO_NETWORK = ("ENOTFOUND", "EAI_AGAIN", "ETIMEDOUT", "ECONNREFUSED", "ECONNRESET", "ENETUNREACH")


def digest(path: Path) -> str:
    """Return a file's SHA-256."""
    return hashlib.sha256((ROOT / path).read_bytes()).hexdigest()


# -- without Node ----------------------------------------------------------------------------


def test_what_is_served_was_built_from_the_sources_as_they_are() -> None:
    note = json.loads(read(HOME / "built_from.json"))
    here = [path.relative_to(HOME) for path in project_files() if HOME in path.parents]
    sources = {str(path) for path in here if path.parts[0] == "src"}
    assert sources <= set(note["sources"])
    stale = "the sources changed: npm run build"
    assert {name: digest(HOME / name) for name in note["sources"]} == note["sources"], stale
    assert {name: digest(SERVED / name) for name in note["built"]} == note["built"], stale
    assert {"page.js", "worker.js"} <= set(note["built"])


def test_no_script_is_served_that_is_not_built() -> None:
    scripts = [path.name for path in project_files() if path.parent == SERVED]
    assert sorted(name for name in scripts if name.endswith(".js")) == ["page.js", "worker.js"]


def test_the_page_is_small_on_the_wire() -> None:
    assert len(gzip.compress((ROOT / SERVED / "page.js").read_bytes(), mtime=0)) < LARGEST


def test_the_packages_are_pinned_and_the_list_names_no_host() -> None:
    asked = json.loads(read(HOME / "package.json"))
    wanted = {**asked["dependencies"], **asked["devDependencies"]}
    lock = json.loads(read(HOME / "package-lock.json"))
    assert {name: lock["packages"][f"node_modules/{name}"]["version"] for name in wanted} == wanted
    for path, package in lock["packages"].items():
        assert not path or package["integrity"].startswith("sha512-"), path
    assert not re.search(r"https?:|\"resolved\"", read(HOME / "package-lock.json"))


def test_what_others_wrote_brings_its_licence() -> None:
    assert list(json.loads(read(HOME / "package.json"))["dependencies"]) == ["idb"]
    assert "ISC License" in read(SERVED / "idb-LICENSE.txt")
    assert "idb-LICENSE.txt" in read(SERVED / "page.js").partition("\n")[0]


# -- with Node -------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the sources with the pinned tools; nothing is built in it yet."""
    if not shutil.which("node") or not shutil.which("npm"):
        pytest.skip("building the round's script: node and npm are not installed")
    top = tmp_path_factory.mktemp("round-script")
    ours = [path for path in project_files() if HOME in path.parents]
    ours += [path for path in project_files() if path.parent == Path("tests/vectors")]
    ours += [path for path in project_files() if path == WORDS]
    for path in ours:
        (top / path).parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(ROOT / path, top / path)
    (top / SERVED).mkdir(parents=True)
    done = npm(top / HOME, "ci")
    if done.returncode and any(word in done.stderr for word in NO_NETWORK):
        pytest.skip("building the round's script: npm reaches no packages")
    assert done.returncode == 0, done.stderr
    return top / HOME


def npm(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """Run npm in a folder."""
    return subprocess.run(
        ["npm", *words],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )


def script(folder: Path, name: str) -> None:
    """Run one of our own scripts; its words are the failure's message."""
    done = npm(folder, "run", "--silent", name)
    if done.returncode:
        pytest.fail(f"npm run {name}\n\n{done.stdout}{done.stderr}", pytrace=False)


def test_the_scripts_types_hold(copy: Path) -> None:
    script(copy, "check")


def test_the_unit_tests_pass(copy: Path) -> None:
    script(copy, "test")


def test_built_anew_it_is_the_same_to_the_byte(copy: Path) -> None:
    script(copy, "build")
    for name in json.loads(read(HOME / "built_from.json"))["built"]:
        built = copy.parents[1] / SERVED / name
        assert built.read_bytes() == (ROOT / SERVED / name).read_bytes(), name
    assert (copy / "built_from.json").read_text() == read(HOME / "built_from.json")


def test_the_apis_types_are_those_of_the_api_as_it_is(copy: Path) -> None:
    described = copy.parents[1] / "showrun/shows/api/openapi.yaml"
    described.parent.mkdir(parents=True)
    call_command("spectacular", file=str(described))
    script(copy, "api")
    assert (copy / "src/api.d.ts").read_text() == read(HOME / "src/api.d.ts"), "npm run api"
