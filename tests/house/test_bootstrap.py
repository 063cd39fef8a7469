"""manage.py before Django: which list is wanted, whether `.venv` is whole, what it says if not."""

from __future__ import annotations

import ast
import importlib.util
import os
import re
import subprocess
import sys
import time
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parents[2]
MANAGE = ROOT / "manage.py"


@pytest.fixture
def manage(tmp_path: Path) -> ModuleType:
    """A copy of manage.py in a project of its own, so that no test touches the real `.venv`."""
    copy = tmp_path / "manage.py"
    copy.write_text(MANAGE.read_text())
    (tmp_path / "tests").mkdir()
    (tmp_path / "requirements.lock").write_text("bread==1 --hash=sha256:00\n")
    (tmp_path / "tests/requirements.lock").write_text("bread==1\nbutter==2\n")
    spec = importlib.util.spec_from_file_location("manage_under_test", copy)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def make_whole(manage: ModuleType, lock: Path) -> None:
    """Leave a `.venv` behind as a finished installation of `lock` does."""
    python = manage.python_in(manage.VENV)
    python.parent.mkdir(parents=True, exist_ok=True)
    if not python.exists():
        python.symlink_to(sys.executable)
    (manage.VENV / ".stamp").write_text(manage.stamp_of(lock))


def whole(manage: ModuleType, lock: Path, *, inside: bool = False) -> bool:
    """Ask whether `.venv` satisfies a lock."""
    return bool(manage.installed(manage.VENV, lock, inside=inside))


# -- an old Python ---------------------------------------------------------------------------


@pytest.mark.parametrize("version", [(3, 6, 15), (3, 10, 13), (2, 7, 18)])
def test_an_old_python_is_told_in_one_line(manage: ModuleType, version: tuple[int, ...]) -> None:
    message = manage.old_python_message(version)
    assert "3.11 or newer" in message
    assert ".".join(map(str, version)) in message
    assert "\n" not in message


@pytest.mark.parametrize("version", [(3, 11, 0), (3, 11), (3, 14, 1), (4, 0, 0)])
def test_a_new_python_is_not_stopped(manage: ModuleType, version: tuple[int, ...]) -> None:
    assert manage.old_python_message(version) is None


def test_an_old_python_can_read_the_file_that_tells_it() -> None:
    ast.parse(MANAGE.read_text(), feature_version=(3, 6))


def test_the_message_comes_before_anything_an_old_python_lacks() -> None:
    program = (
        "import sys\n"
        "sys.version_info = (3, 8, 2)\n"
        "sys.modules['contextlib'] = None\n"  # any import after the message would fail
        f"exec(compile(open({str(MANAGE)!r}).read(), 'manage.py', 'exec'))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False
    )
    assert done.returncode == 1
    assert done.stderr.count("\n") == 1
    assert "this one is 3.8.2" in done.stderr


# -- which list, and whether it is installed -------------------------------------------------


@pytest.mark.parametrize("command", ["test", "bench"])
def test_developer_commands_want_the_test_tools(manage: ModuleType, command: str) -> None:
    assert manage.lock_for(["manage.py", command]) == manage.TESTS_LOCK


@pytest.mark.parametrize(
    "argv", [["manage.py"], ["manage.py", "demo"], ["manage.py", "demo", "test"]]
)
def test_other_commands_want_the_short_list(manage: ModuleType, argv: list[str]) -> None:
    assert manage.lock_for(argv) == manage.RUNTIME_LOCK


def test_no_venv_is_not_whole(manage: ModuleType) -> None:
    assert not whole(manage, manage.RUNTIME_LOCK)


def test_a_stamped_venv_is_whole(manage: ModuleType) -> None:
    make_whole(manage, manage.RUNTIME_LOCK)
    assert whole(manage, manage.RUNTIME_LOCK)
    assert whole(manage, manage.RUNTIME_LOCK, inside=True)


def test_the_short_list_does_not_satisfy_the_tests(manage: ModuleType) -> None:
    make_whole(manage, manage.RUNTIME_LOCK)
    assert not whole(manage, manage.TESTS_LOCK)


def test_the_tests_list_satisfies_both(manage: ModuleType) -> None:
    make_whole(manage, manage.TESTS_LOCK)
    assert whole(manage, manage.TESTS_LOCK)
    assert whole(manage, manage.RUNTIME_LOCK)


def test_a_changed_list_is_installed_again(manage: ModuleType) -> None:
    make_whole(manage, manage.RUNTIME_LOCK)
    manage.RUNTIME_LOCK.write_text("bread==2\n")
    assert not whole(manage, manage.RUNTIME_LOCK)


def test_a_cut_short_install_is_not_whole(manage: ModuleType) -> None:
    make_whole(manage, manage.RUNTIME_LOCK)
    (manage.VENV / ".installing").touch()
    assert not whole(manage, manage.RUNTIME_LOCK)


def test_a_vanished_interpreter_is_not_whole(manage: ModuleType) -> None:
    make_whole(manage, manage.RUNTIME_LOCK)
    manage.python_in(manage.VENV).unlink()
    manage.python_in(manage.VENV).symlink_to("/no/python/here")
    assert not whole(manage, manage.RUNTIME_LOCK)


def test_another_python_under_the_same_links_is_noticed_inside(manage: ModuleType) -> None:
    make_whole(manage, manage.RUNTIME_LOCK)
    stamp = manage.VENV / ".stamp"
    stamp.write_text(stamp.read_text().rsplit(".", 1)[0] + ".1")
    assert whole(manage, manage.RUNTIME_LOCK)  # nothing to see from outside
    assert not whole(manage, manage.RUNTIME_LOCK, inside=True)


# -- making it, with the installing steps themselves replaced --------------------------------


@pytest.fixture
def steps(manage: ModuleType, monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """The commands that would run; the one that makes the environment leaves an interpreter."""
    commands: list[list[str]] = []

    def run(command: list[str], lock_fd: int | None) -> int:
        commands.append(command)
        if command[1:3] == ["-m", "venv"]:
            python = manage.python_in(manage.VENV)
            python.parent.mkdir(parents=True)
            python.symlink_to(sys.executable)
        return 0

    monkeypatch.setattr(manage, "run", run)
    monkeypatch.setattr(manage.shutil, "which", lambda name: None)
    return commands


def test_a_first_start_makes_installs_and_stamps(
    manage: ModuleType, steps: list[list[str]]
) -> None:
    manage.make_venv(manage.RUNTIME_LOCK, None)
    assert len(steps) == 2
    assert "--require-hashes" in steps[1]
    assert steps[1][steps[1].index("--only-binary") + 1] == ":all:"
    assert steps[1][-2:] == ["-r", str(manage.RUNTIME_LOCK)]
    assert "--no-compile" not in steps[1]
    assert whole(manage, manage.RUNTIME_LOCK)


def test_a_cut_short_venv_is_made_afresh(manage: ModuleType, steps: list[list[str]]) -> None:
    make_whole(manage, manage.RUNTIME_LOCK)
    (manage.VENV / ".installing").touch()
    (manage.VENV / "half_a_package").touch()
    manage.make_venv(manage.RUNTIME_LOCK, None)
    assert not (manage.VENV / "half_a_package").exists()
    assert whole(manage, manage.RUNTIME_LOCK)


def test_a_changed_list_is_installed_into_what_is_there(
    manage: ModuleType, steps: list[list[str]]
) -> None:
    make_whole(manage, manage.RUNTIME_LOCK)
    manage.make_venv(manage.TESTS_LOCK, None)
    assert len(steps) == 1
    assert "--no-compile" in steps[0]
    assert whole(manage, manage.TESTS_LOCK)


def test_uv_goes_first_and_pip_takes_over_when_it_fails(
    manage: ModuleType, steps: list[list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    make_whole(manage, manage.RUNTIME_LOCK)
    monkeypatch.setattr(manage.shutil, "which", lambda name: f"/opt/{name}")

    def run(command: list[str], lock_fd: int | None) -> int:
        steps.append(command)
        return int(command[0] == "/opt/uv")

    monkeypatch.setattr(manage, "run", run)
    manage.make_venv(manage.TESTS_LOCK, None)
    assert [command[0] == "/opt/uv" for command in steps] == [True, False]
    assert whole(manage, manage.TESTS_LOCK)


def test_a_failed_install_is_not_stamped_and_can_be_retried(
    manage: ModuleType, steps: list[list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    make_whole(manage, manage.RUNTIME_LOCK)
    monkeypatch.setattr(manage, "run", lambda command, fd: 1)
    with pytest.raises(SystemExit, match="Run the same command again"):
        manage.make_venv(manage.TESTS_LOCK, None)
    assert not whole(manage, manage.TESTS_LOCK)
    assert not (manage.VENV / ".installing").exists()


def test_a_python_without_venv_is_told_what_to_install(
    manage: ModuleType, steps: list[list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(manage.importlib.util, "find_spec", lambda name: None)
    with pytest.raises(SystemExit, match="apt install python3-venv"):
        manage.make_venv(manage.RUNTIME_LOCK, None)
    assert steps == []


def test_a_second_run_waits_for_the_first(manage: ModuleType, tmp_path: Path) -> None:
    program = (
        "import sys; sys.path.insert(0, sys.argv[1]); import manage\n"
        "with manage.only_one(): print('mine')\n"
    )
    with manage.only_one():
        second = subprocess.Popen(
            [sys.executable, "-B", "-c", program, str(tmp_path)],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        assert second.stderr is not None
        assert "waiting for it" in second.stderr.readline()
        time.sleep(0.2)
        assert second.poll() is None
    assert second.communicate(timeout=20)[0] == "mine\n"


def test_no_venv_is_made_when_the_image_brings_its_own_python(tmp_path: Path) -> None:
    (tmp_path / "manage.py").write_text(MANAGE.read_text())
    done = subprocess.run(
        [sys.executable, str(tmp_path / "manage.py"), "--version"],
        env={**os.environ, "SHOWRUN_NO_VENV": "1"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert re.fullmatch(r"\d+\.\d+(\.\d+)?\n", done.stdout), done.stderr
    assert not (tmp_path / ".venv").exists()


# -- the papers' libraries -------------------------------------------------------------------


def test_missing_paper_libraries_are_one_line_for_three_systems(manage: ModuleType) -> None:
    message = manage.missing_paper_message(["pango-1.0"])
    assert "\n" not in message
    for words in ("pango-1.0", "apt install libpango-1.0-0", "dnf install pango", "brew install"):
        assert words in message


def test_the_demo_stops_before_installing_when_they_are_missing(
    manage: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(manage, "loads", lambda name, number: name != "pangoft2-1.0")
    with pytest.raises(SystemExit, match=r"not on this system \(pangoft2-1\.0\)"):
        manage.main(["manage.py", "demo"])
    assert not manage.VENV.exists()


def test_a_library_that_is_not_there_does_not_load(manage: ModuleType) -> None:
    assert not manage.loads("no-such-library", 0)


def test_every_library_the_papers_load_is_asked_for(manage: ModuleType) -> None:
    import importlib.metadata

    source = importlib.metadata.distribution("weasyprint").locate_file("weasyprint/text/ffi.py")
    calls = re.findall(r"_dlopen\(\s*ffi,(.*?)\)\n", Path(str(source)).read_text(), re.DOTALL)
    needed = [call for call in calls if "allow_fail" not in call]
    loaded = {re.search(r"'lib([\w.-]+)\.so\.(\d)'", call).groups() for call in needed}  # type: ignore[union-attr]
    assert {(name, str(number)) for name, number in manage.LIBRARIES.items()} == loaded


# -- the lists themselves --------------------------------------------------------------------


def pins(lock: Path) -> set[str]:
    """Return a lock file's `name==version ; marker` lines."""
    lines = lock.read_text().splitlines()
    return {line.rstrip("\\ ") for line in lines if re.match(r"[A-Za-z0-9]", line)}


def test_the_tests_list_holds_everything_in_the_short_one() -> None:
    short, tests = pins(ROOT / "requirements.lock"), pins(ROOT / "tests/requirements.lock")
    assert len(short) > 20
    assert {pin.split(" ;")[0] for pin in short} <= {pin.split(" ;")[0] for pin in tests}


@pytest.mark.parametrize("lock", ["requirements.lock", "tests/requirements.lock"])
def test_the_lists_name_no_host(lock: str) -> None:
    text = (ROOT / lock).read_text()
    assert "--hash=sha256:" in text
    assert not re.search(r"https?:|--(extra-)?index-url|--find-links|--trusted-host", text)
