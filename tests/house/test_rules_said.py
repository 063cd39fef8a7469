"""What a reader of a rule is told: what it takes, what it refuses, and where types give way."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.house.tree import read, rule_files

pytestmark = pytest.mark.static


def functions(path: Path) -> Iterator[ast.FunctionDef]:
    """The public functions of a module."""
    for node in ast.parse(read(path)).body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield node


def section(text: str, name: str) -> str:
    """A numpydoc section of a docstring, without its heading; nothing where there is none."""
    found = re.search(
        rf"^{name}\n-+\n(.*?)(?=\n\n\w[^\n]*\n-+\n|\Z)", text, re.DOTALL | re.MULTILINE
    )
    return found[1] if found else ""


def named_in(text: str) -> set[str]:
    """The parameters a section names: lines that do not stand in."""
    heads = re.findall(r"^(\S[^:\n]*?)(?: :.*)?$", text, re.MULTILINE)
    return {name.strip().lstrip("*") for head in heads for name in head.split(",")}


def taken_by(node: ast.FunctionDef) -> set[str]:
    """What a function takes, by name."""
    given = node.args
    every = [*given.posonlyargs, *given.args, *given.kwonlyargs, given.vararg, given.kwarg]
    return {one.arg for one in every if one}


def raised_by(node: ast.FunctionDef) -> set[str]:
    """What a function raises itself; what it calls may raise more."""
    return {
        raised.exc.func.id
        for raised in ast.walk(node)
        if isinstance(raised, ast.Raise)
        and isinstance(raised.exc, ast.Call)
        and isinstance(raised.exc.func, ast.Name)
    } - {"AssertionError"}


@pytest.mark.parametrize("path", rule_files(), ids=str)
def test_a_public_function_says_what_it_does_takes_and_refuses(path: Path) -> None:
    for node in functions(path):
        text = ast.get_docstring(node) or ""
        assert text, f"{node.name} says nothing"
        parameters = section(text, "Parameters")
        if parameters:
            assert named_in(parameters) == taken_by(node), node.name
        raises = section(text, "Raises")
        assert [one for one in raised_by(node) if one not in raises] == [], node.name


@pytest.mark.parametrize("path", rule_files(), ids=str)
def test_where_types_give_way_it_says_why(path: Path) -> None:
    """In the same line, or as a comment above; a library without types is its own reason."""
    lines = read(path).splitlines()
    for number, line in enumerate(lines):
        found = re.search(r"# type: ignore(\[[\w, -]+\])?(.*)$", line)
        if found and found[1] != "[import-untyped]":
            assert found[1], f"{path}:{number + 1} names no error"
            above = lines[number - 1].strip()
            assert "#" in found[2] or above.startswith("#"), f"{path}:{number + 1} gives no reason"


def test_a_docstring_is_read_as_it_is_written() -> None:
    heads = "Parameters\n----------\na, b : int\n    First [min].\n*more"
    text = f"Do.\n\n{heads}\n\nRaises\n------\nValueError\n    So."
    assert named_in(section(text, "Parameters")) == {"a", "b", "more"}
    assert section(text, "Raises") == "ValueError\n    So."
    assert section(text, "Source") == ""
