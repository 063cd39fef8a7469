"""What the documents say, held against the code."""

from __future__ import annotations

import ast
import doctest
import importlib
import re
from pathlib import Path

import pytest
from django.core.management import get_commands

from tests.house.tree import APPS, ROOT, files_ending, project_files, read, rule_files

DOCUMENTS = files_ending(".md")
GUIDE = Path("DEVELOPERS.md")
# Where a service of ours, a tool of ours or a test of ours asks the environment for something.
ENVIRONMENT = r'\benv(?:iron)?(?:\.\w+)?[\[(]\s*"([A-Z][A-Z0-9_]+)"'


def section(document: Path, heading: str) -> str:
    """The text under a heading, up to the next one of its rank."""
    found = re.search(rf"^## {heading}\n(.*?)(?=^## |\Z)", read(document), re.DOTALL | re.MULTILINE)
    assert found is not None, f"{document} has no heading {heading}"
    return found[1]


def table(document: Path, heading: str) -> list[list[str]]:
    """The rows of the table under a heading, without its head."""
    lines = [line for line in section(document, heading).splitlines() if line.startswith("|")]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[2:]]


def unquoted(cell: str) -> str:
    """A table cell's text without the backticks around it."""
    return cell.strip("`")


# -- the rule index --------------------------------------------------------------------------


def rules_in_code() -> dict[tuple[str, str], str]:
    """Every rule with its file and source: what is public in `rules` and names a source."""
    found = {}
    for path in rule_files():
        for node in ast.parse(read(path)).body:
            if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
                text = ast.get_docstring(node) or ""
                source = re.search(r"^Source\n-+\n(.*?)(?:\n\n|\Z)", text, re.DOTALL | re.MULTILINE)
                if source:
                    found[node.name, str(path)] = " ".join(source[1].split())
    return found


def index() -> dict[tuple[str, str], tuple[str, str]]:
    """The rule index: (rule, file) to (source, test)."""
    rows = table(GUIDE, "Rule index")
    return {
        (unquoted(rule), unquoted(file)): (source, unquoted(test))
        for rule, file, source, test in rows
    }


def test_the_rule_index_names_the_rules_there_are() -> None:
    code, listed = rules_in_code(), index()
    assert len(code) > 30
    lacking = [
        f"| `{rule}` | `{file}` | {code[rule, file]} | `tests/rules/...` |"
        for rule, file in sorted(code.keys() - listed.keys(), key=lambda key: key[::-1])
    ]
    assert not lacking, "rows to add:\n" + "\n".join(lacking)
    assert listed.keys() - code.keys() == set(), "rows of rules that are gone"
    assert len(table(GUIDE, "Rule index")) == len(listed), "a rule stands twice"


def test_every_rules_module_is_in_the_index_or_said_to_serve_one() -> None:
    serving = {unquoted(file) for file, _ in table(GUIDE, "Modules that serve the rules")}
    with_rules = {file for _, file in rules_in_code()}
    assert serving & with_rules == set()
    assert serving | with_rules == {str(path) for path in rule_files()}


def test_each_source_in_the_index_is_the_codes_own() -> None:
    code = rules_in_code()
    for key, (cell, _) in index().items():
        for part in cell.split(";"):
            first = re.search(r"[\w-]+", part)
            assert first, key
            assert first[0].lower() in code[key].lower(), f"{key}: {part!r} is not in {code[key]!r}"
        assert ("no source" in cell) <= ("no source" in code[key]), key
        assert ("memory" in code[key]) <= ("memory" in cell), key


def test_each_test_in_the_index_uses_its_rule() -> None:
    for (rule, file), (_, test) in index().items():
        assert (ROOT / test).is_file(), test
        module = re.escape(".".join(Path(file).with_suffix("").parts))
        used = re.search(rf"\b{rule}\b|^from {module} import", read(Path(test)), re.MULTILINE)
        assert used, f"{test} does not use {rule}"


@pytest.mark.parametrize("path", rule_files(), ids=str)
def test_the_examples_in_a_rules_docstrings_are_true(path: Path) -> None:
    module = importlib.import_module(".".join(path.with_suffix("").parts))
    flags = doctest.NORMALIZE_WHITESPACE | doctest.ELLIPSIS
    # What it prints is shown by pytest when an example fails.
    assert doctest.testmod(module, optionflags=flags).failed == 0


def test_most_rules_show_an_example() -> None:
    shown = 0
    for rule, file in rules_in_code():
        module = importlib.import_module(".".join(Path(file).with_suffix("").parts))
        owner = getattr(module, rule, None)
        shown += ">>>" in (getattr(owner, "__doc__", None) or "")
    assert shown >= 0.75 * len(rules_in_code())


# -- commands, paths, variables --------------------------------------------------------------


@pytest.mark.parametrize("document", DOCUMENTS, ids=str)
def test_every_command_in_a_document_exists(document: Path) -> None:
    known = set(get_commands())
    for command in re.findall(r"python3? manage\.py ([a-z_]+)", read(document)):
        assert command in known, command


def test_the_readme_names_the_two_commands() -> None:
    for command in ("demo", "test"):
        assert f"python3 manage.py {command}" in read(Path("README.md"))


def test_every_option_of_a_command_in_a_document_exists() -> None:
    for document in DOCUMENTS:
        for command, rest in re.findall(r"manage\.py (demo|load_demo)\b([^`\n]*)", read(document)):
            source = read(Path(f"showrun/project/management/commands/{command}.py"))
            for option in re.findall(r"--[a-z-]+", rest):
                assert f'"{option}"' in source, f"{document}: {command} {option}"


@pytest.mark.parametrize("document", DOCUMENTS, ids=str)
def test_every_path_in_a_document_exists(document: Path) -> None:
    ours = {str(path) for path in project_files()}
    folders = {str(parent) for path in project_files() for parent in path.parents}
    named = re.findall(r"`([\w.-]+(?:/[\w.*-]+)+/?)(?:::\w+)?`", read(document))
    roots = {path.parts[0] for path in project_files()} - {".git"}
    for name in named:
        if name.split("/")[0] in roots and "*" not in name:
            assert name.rstrip("/") in ours | folders, name


@pytest.mark.parametrize("document", DOCUMENTS, ids=str)
def test_every_link_in_a_document_leads_somewhere(document: Path) -> None:
    for target in re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", read(document)):
        assert not target.startswith(("http:", "https:")), "documents work without a network"
        assert (ROOT / document.parent / target).exists(), target


def test_pictures_are_small_and_described() -> None:
    pictures = re.findall(r"!\[([^\]]*)\]\(([^)]+)\)", read(Path("README.md")))
    assert len(pictures) >= 3
    for words, target in pictures:
        assert len(words) > 20, target
        assert (ROOT / target).stat().st_size < 150_000, target


def test_every_variable_is_in_the_guide_and_the_other_way_round() -> None:
    asking = [path for path in files_ending(".py") if not path.name.startswith("test_")]
    read_anywhere = {
        name
        for path in asking
        for name in re.findall(ENVIRONMENT, read(path))
        if not name.startswith("SHOWRUN_ENTERED")  # manage.py's note to itself
    }
    listed = {
        name
        for row in table(GUIDE, "Variables")
        for name in re.findall(r"`([A-Z][A-Z0-9_]+)`", row[0])
    }
    assert {"DATABASE_URL", "SHOWRUN_DATA"} <= read_anywhere
    assert listed == read_anywhere


# -- the short pages -------------------------------------------------------------------------


@pytest.mark.parametrize("app", APPS)
def test_each_apps_readme_is_a_page_and_names_every_room(app: str) -> None:
    text = read(Path(app) / "README.md")
    assert text.count("\n") <= 80
    home = ROOT / app / "shows" if app == "showrun" else ROOT / app
    rooms = {
        path.name.removesuffix(".py")
        for path in home.iterdir()
        if path.name in {"rules", "models", "actions", "queries", "api", "web"}
        or path.name in {"queries.py", "tasks.py", "pdf.py"}
    }
    assert len(rooms) >= 5
    assert [room for room in rooms if f"`{room}" not in text] == []


def test_the_licence_is_the_one_the_project_declares() -> None:
    assert 'license = "Apache-2.0"' in read(Path("pyproject.toml"))
    text = read(Path("LICENSE"))
    assert re.search(r"Apache License\s+Version 2\.0, January 2004", text)
    assert "END OF TERMS AND CONDITIONS" in text
