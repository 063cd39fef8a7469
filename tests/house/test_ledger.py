"""Nothing of ours changes or removes a row of the ledger past its own guard."""

from __future__ import annotations

import ast
from collections.abc import Iterator

import pytest

from tests.house.tree import APPS, files_ending, read

CHANGES = {"update", "bulk_update", "update_or_create", "delete", "_raw_delete"}
ROWS = {"Posting", "PostingLine"}


def links(node: ast.expr) -> Iterator[str]:
    """The names of a chain such as `Posting.objects.filter(...).delete`, from its end."""
    while True:
        if isinstance(node, ast.Call):
            node = node.func
        elif isinstance(node, ast.Attribute):
            yield node.attr
            node = node.value
        else:
            if isinstance(node, ast.Name):
                yield node.id
            return


def past_the_guard(code: str) -> list[str]:
    """What in the code changes rows of the ledger without asking the model."""
    found = []
    for node in ast.walk(ast.parse(code)):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            names = set(links(node.func))
            if node.func.attr in CHANGES and (names & ROWS or "lines" in names):
                found.append(ast.unparse(node))
        if isinstance(node, ast.Constant) and "entries_posting" in str(node.value):
            found.append(str(node.value))
    return found


def test_no_code_changes_or_removes_rows_of_the_ledger():
    ours = [p for p in files_ending(".py") if p.parts[0] in APPS and "migrations" not in p.parts]
    assert sum("Posting.objects" in read(path) for path in ours) >= 3
    found = {str(path): past_the_guard(read(path)) for path in ours}
    assert {path: hits for path, hits in found.items() if hits} == {}


@pytest.mark.parametrize(
    "code",
    [
        "Posting.objects.filter(pk=1).update(words='')",
        "PostingLine.objects.all().delete()",
        "(Posting.objects.filter(\n    pk=1\n    ).exclude(number=2)\n    .delete())",
        "posting.lines.all().delete()",
        "posting.lines.update(amount_cents=1)",
        "PostingLine.objects.bulk_update(rows, ['amount_cents'])",
        "cursor.execute('DELETE FROM entries_postingline')",
    ],
)
def test_the_search_finds_what_it_looks_for(code: str):
    assert past_the_guard(code)
    assert not past_the_guard("Paper.objects.filter(posting=1).update(state='wanted')")
