"""The register of refusals against the code: nothing is refused that is not in it, and back."""

from __future__ import annotations

import ast
import importlib
import re
from collections.abc import Iterator
from pathlib import Path

from rest_framework import exceptions

from showrun import errors
from showrun.shows.api.problem_types import ALSO, TYPES
from tests.house.tree import APPS, files_ending, read

ROOMS = [path for path in files_ending(".py") if path.parts[0] in APPS]
GUIDE = Path("showrun/shows/api/README.md")


def refusals() -> dict[str, type[errors.ShowError]]:
    """Every class of refusal there is, by name."""
    for path in ROOMS:
        if {"actions", "api"} & set(path.parts):
            importlib.import_module(".".join(path.with_suffix("").parts))
    found, below = {}, [errors.ShowError]
    while below:
        kind = below.pop()
        found[kind.__name__] = kind
        below += kind.__subclasses__()
    return {name: kind for name, kind in found.items() if not kind.__module__.startswith("tests")}


def raised() -> Iterator[tuple[str, int, str]]:
    """Every code a refusal is made with, its status, and where."""
    statuses = {"AuthenticationFailed": exceptions.AuthenticationFailed.status_code}
    for name, kind in refusals().items():
        statuses[name] = kind.status
        yield kind.code, kind.status, name
    for path in ROOMS:
        for node in ast.walk(ast.parse(read(path))):
            if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name)):
                continue
            for word in node.keywords:
                if node.func.id in statuses and word.arg == "code" and _code(word.value, path):
                    where = f"{path}:{node.lineno}"
                    yield _code(word.value, path), statuses[node.func.id], where


def _code(value: ast.expr, path: Path) -> str:
    """What stands behind `code=`: a word, or a name for one; other things tell nothing."""
    if isinstance(value, ast.Name):
        module = importlib.import_module(".".join(path.with_suffix("").parts))
        return str(getattr(module, value.id))
    return str(value.value) if isinstance(value, ast.Constant) else ""


# What the framework and the API's own last resorts refuse with.
FRAMEWORK = {
    code.replace("_", "-")
    for code in (
        exceptions.ParseError.default_code,
        exceptions.NotAuthenticated.default_code,
        exceptions.PermissionDenied.default_code,
        exceptions.MethodNotAllowed.default_code,
        exceptions.NotAcceptable.default_code,
        exceptions.UnsupportedMediaType.default_code,
        exceptions.Throttled.default_code,
        "server_error",
        "unavailable",
        "refused",
    )
}
# A mark that a card cannot take is refused in the card's own words.
OF_A_MARK = set(
    re.findall(
        r'MarkRefused\(\s*"([a-z-]+)"|code = "([a-z-]+)"',
        read(Path("judging/rules/cards/scorecard.py")),
    )
)
OF_A_MARK = {code for pair in OF_A_MARK for code in pair if code}
# These two are about states, which an answer in the office does not have.
ONLY_ON_A_PHONE = {"mark-not-empty", "place-not-applicable"}


def test_whatever_is_refused_is_in_the_register_with_its_status() -> None:
    seen = list(raised())
    assert len(seen) > 60
    lacking = {(code, where) for code, _, where in seen if code not in TYPES}
    assert lacking == set()
    odd = [
        (code, status, where)
        for code, status, where in seen
        if status not in (TYPES[code].status, *ALSO.get(code, ()))
    ]
    assert odd == []


def test_whatever_is_in_the_register_is_refused_somewhere() -> None:
    somewhere = {code for code, _, _ in raised()} | FRAMEWORK | (OF_A_MARK - ONLY_ON_A_PHONE)
    assert ONLY_ON_A_PHONE < OF_A_MARK
    assert set(TYPES) - somewhere == set()
    assert FRAMEWORK - set(TYPES) == set()


def test_every_code_an_operation_names_is_in_the_register() -> None:
    named = 0
    for path in (path for path in ROOMS if "api" in path.parts):
        for line in re.findall(r"@refuses\((.*?)\)\n", read(path), re.DOTALL):
            codes = re.findall(r'(?<!=)"([a-z-]+)"', line)
            assert set(codes) <= set(TYPES), (path, line)
            named += len(codes)
    assert named > 100


def test_the_guide_lists_the_register_as_it_is() -> None:
    rows = re.findall(r"^\| `([a-z-]+)` \| (\d{3}) \| ([^|]+) \| ([^|]+) \|$", read(GUIDE), re.M)
    listed = {code: (int(status), title, meaning) for code, status, title, meaning in rows}
    assert len(rows) == len(listed)
    there = {code: (kind.status, kind.title, kind.meaning) for code, kind in TYPES.items()}
    lacking = [
        f"| `{code}` | {status} | {title} | {meaning} |"
        for code, (status, title, meaning) in there.items()
        if listed.get(code) != (status, title, meaning)
    ]
    assert not lacking, "rows to write:\n" + "\n".join(lacking)
    assert set(listed) == set(there)
