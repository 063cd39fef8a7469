"""Who may do what is answered by one table: no door keeps an answer of its own."""

from __future__ import annotations

import re

import pytest

from tests.house.tree import files_ending, read

DOORS = [
    path
    for path in files_ending(".py")
    if path.parts[0] != "tests" and {"web", "api", "queries"} & {*path.parts, path.stem}
]
# What a door must not decide by; whose an object is goes to the table as `owner`.
OWN_ANSWERS = re.compile(
    r"\bRole\.(?!KEY_HOLDER\.value)\w+\b|is_staff|is_superuser|has_perms?\b|user_passes_test"
    r"|\bRoleHeld\.objects\.\w+\([^)]*\)\.exists\(\)"
)
# The page that gives roles names them, as the forms of the people it is about.
ABOUT_ROLES = {"showrun/shows/web/people.py"}


@pytest.mark.parametrize("path", [p for p in DOORS if str(p) not in ABOUT_ROLES], ids=str)
def test_a_door_asks_the_table(path) -> None:
    assert OWN_ANSWERS.findall(read(path)) == []


def test_there_are_doors_and_the_search_finds_what_it_looks_for() -> None:
    assert len(DOORS) > 100
    for code in ("if Role.OFFICE in roles:", "user.is_staff", "@user_passes_test(x)"):
        assert OWN_ANSWERS.findall(code)
