"""The page on security: each test it names is there, and what is not met is said as such."""

from __future__ import annotations

import ast
import re

from tests.house.tree import ROOT, files_ending, read

PAGE = (ROOT / "docker/SECURITY.md").read_text(encoding="utf-8")
ROWS = re.findall(r"^\| (v5\.0\.0-.+?) \| (.+?) \| (.+?) \|$", PAGE, re.MULTILINE)
WITHOUT_TEST = {"not met", "operator", "this page"}
CHAPTERS = {2, 3, 4, 5, 6, 7, 8, 11, 12, 13, 14, 16}


def functions_of(path: str) -> set[str]:
    tree = ast.parse((ROOT / path).read_text(encoding="utf-8"))
    return {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)}


def test_each_requirement_stands_once_with_its_number() -> None:
    numbers = [number for row in ROWS for number in row[0].split(", ")]
    assert len(numbers) == len(set(numbers)) > 80
    assert all(re.fullmatch(r"v5\.0\.0-\d+\.\d+\.\d+", number) for number in numbers)
    assert {int(number.split("-")[1].split(".")[0]) for number in numbers} == CHAPTERS


def test_each_named_test_exists() -> None:
    shown = 0
    for number, _, test in ROWS:
        if test in WITHOUT_TEST:
            continue
        found = re.fullmatch(r"`(tests/[\w/]+\.py)::(test_\w+)`", test)
        assert found, (number, test)
        path, name = found.groups()
        assert (ROOT / path).is_file(), path
        assert name in functions_of(path), (number, test)
        shown += 1
    assert shown > 50


def test_what_is_not_met_says_so_on_both_sides() -> None:
    for number, what, test in ROWS:
        assert what.startswith("Not met") is (test == "not met"), number


def test_no_answer_lets_another_origin_read() -> None:
    allowing = [
        str(path)
        for path in files_ending(".py")
        if path.parts[0] != "tests"
        and re.search("Access-Control-Allow|corsheaders|csrf_exempt", read(path))
    ]
    # Whoever pays tells of it from outside, by a signature of its own; the other answers for
    # addresses that are not there.
    assert sorted(allowing) == ["entries/web/money.py", "showrun/shows/api/problems.py"]
