"""The shape of the tree: what lies where, how long it may be, and what it may not say."""

from __future__ import annotations

import re
from fnmatch import fnmatch
from itertools import pairwise
from pathlib import Path

import pytest
from django.apps import apps
from django.contrib.staticfiles import finders
from django.db.models import Field

from tests.house.tree import APPS, ROOT, files_ending, project_files, read

LONGEST = 400  # lines
TOP_LEVEL = (
    *("README.md", "DEVELOPERS.md", "LICENSE", "manage.py", "pyproject.toml", "requirements.lock"),
    *("showrun", "entries", "judging", "reports", "tests", "docker", "fixtures_demo", ".*"),
)
BINARY = (".png", ".woff2", ".ico", ".mo")
# App labels from the ground up; a row may point at its own storey or at one below.
STOREYS = ("shows", "entries", "judging", "reports")
# Text the templates take as ready HTML, and why each may be.
READY_HTML = {
    "showrun/shows/web/guides.py": "our own Markdown, drawn with raw HTML off; a test sends some",
    "judging/web/phones.py": "the QR code of a pairing link: an SVG drawn here, no one's words",
}
TEMPLATES = [path for path in files_ending(".html") if "templates" in path.parts]
# Not what is built from others: `tests/house/test_round_script.py` looks at that.
OWN_SCRIPTS = [
    path
    for path in files_ending(".js", ".mjs", ".ts")
    if path.name != "api.d.ts" and path.parent != Path("judging/static/judging/offline")
]


# -- where things lie ------------------------------------------------------------------------


def test_the_top_level_holds_what_is_agreed_and_nothing_else() -> None:
    found = {path.parts[0] for path in project_files()}
    assert {"README.md", "manage.py", *APPS} <= found
    assert [name for name in found if not any(fnmatch(name, known) for known in TOP_LEVEL)] == []


@pytest.mark.parametrize("name", ["utils", "helpers", "common", "misc", "signals"])
def test_no_file_is_a_drawer_for_everything(name: str) -> None:
    assert [str(path) for path in project_files() if name in (path.stem, *path.parts)] == []


def test_files_stay_short() -> None:
    ours = [path for path in files_ending(".py") if "migrations" not in path.parts]
    assert len(ours) > 100
    lines = {str(path): read(path).count("\n") for path in [*ours, *OWN_SCRIPTS]}
    assert {name: count for name, count in lines.items() if count > LONGEST} == {}


# -- rows point down -------------------------------------------------------------------------


def links_between_storeys() -> list[tuple[str, bool, str, str]]:
    """Every link from one of our apps to another: its name, hidden or not, from where, to where."""
    links = []
    for model in apps.get_models():
        for field in model._meta.get_fields():
            if not isinstance(field, Field) or not field.remote_field:
                continue
            here, there = model._meta.app_label, field.remote_field.model._meta.app_label
            if {here, there} <= set(STOREYS) and here != there:
                links.append((str(field), bool(field.remote_field.hidden), here, there))
    return links


def test_rows_point_at_storeys_below_and_leave_nothing_on_them() -> None:
    links = links_between_storeys()
    assert len(links) > 20
    assert {(here, there) for _, _, here, there in links} <= {
        (STOREYS[high], STOREYS[low]) for high in range(len(STOREYS)) for low in range(high)
    }
    seen = [name for name, hidden, _, _ in links if not hidden]
    assert seen == [], 'needs related_name="+"'


# -- what the tree may not say ---------------------------------------------------------------


def texts() -> list[tuple[Path, str]]:
    """Every file of the project that is text."""
    return [(path, read(path)) for path in project_files() if path.suffix not in BINARY]


@pytest.mark.parametrize(
    "words",
    [
        # Put together here, or this file would be the one to name them.
        ("/wo", "rk/"),
        ("/tmp/pl", "an"),
        ("/ro", "ot/"),
        ("/ho", "me/"),
        ("py", "pi.org"),
        ("python", "hosted"),
        ("npm", "js"),
        ("deb.de", "bian"),
    ],
    ids="".join,
)
def test_no_file_names_a_machine_or_a_registry(words: tuple[str, str]) -> None:
    assert [str(path) for path, text in texts() if "".join(words) in text] == []


def test_the_pinned_lists_hold_pins_and_hashes_only() -> None:
    for path in files_ending(".lock"):
        lines = [line.strip() for line in read(path).splitlines()]
        odd = [
            line
            for line in lines
            if line and not re.match(r"[a-z0-9][\w.-]*==\S+( ; .+)?( \\)?$|--hash=sha256:", line)
        ]
        assert odd == [], path


# -- what others made ------------------------------------------------------------------------


def test_every_font_brings_its_licence() -> None:
    fonts = files_ending(".woff2", ".woff", ".ttf", ".otf")
    assert fonts
    for font in fonts:
        assert (ROOT / font).read_bytes()[:4] == b"wOF2", font
        licences = list((ROOT / font.parent).glob("*-OFL.txt"))
        own = [path for path in licences if font.name.startswith(path.name.split("-OFL")[0])]
        assert len(own) == 1, font
        assert "SIL OPEN FONT LICENSE" in own[0].read_text().upper()


# -- what a page may hold --------------------------------------------------------------------


@pytest.mark.parametrize("template", TEMPLATES, ids=str)
def test_a_template_holds_nothing_the_content_policy_refuses(template: Path) -> None:
    text = re.sub(r"{#.*?#}|{% comment.*?endcomment %}", "", read(template), flags=re.DOTALL)
    tags = re.findall(r"<[a-z][^<>]*(?:<[^<>]*>[^<>]*)*>", text, re.IGNORECASE)
    assert "<style" not in text
    for tag in tags:
        assert not re.search(r"\sstyle\s*=", tag), tag
        assert not re.search(r"\son[a-z]+\s*=", tag), tag
        assert not re.search(r"""(src|href)\s*=\s*["']?(https?:|//|javascript:)""", tag), tag
    for opening, inside in re.findall(r"(<script[^>]*>)(.*?)</script>", text, re.DOTALL):
        assert "src=" in opening or 'type="application/json"' in opening, opening
        assert "src=" not in opening or not inside.strip()


@pytest.mark.parametrize("template", TEMPLATES, ids=str)
def test_what_a_template_links_to_is_there(template: Path) -> None:
    names = re.findall(r"{% static ['\"]([^'\"{}]+)['\"]", read(template))
    assert [name for name in names if finders.find(name) is None] == []


@pytest.mark.parametrize("template", TEMPLATES, ids=str)
def test_a_template_trusts_no_words_as_html(template: Path) -> None:
    assert not re.search(r"\|\s*(safe|safeseq)\b|{%\s*autoescape\s+off", read(template))


def test_ready_html_is_made_only_where_it_is_explained() -> None:
    ours = [path for path in files_ending(".py") if path.parts[0] in APPS]
    makers = {str(path) for path in ours if re.search(r"\bmark_safe\b|\bSafeString\(", read(path))}
    assert makers == set(READY_HTML)


@pytest.mark.parametrize("script", OWN_SCRIPTS, ids=str)
def test_a_script_writes_no_html_and_runs_no_text(script: Path) -> None:
    forbidden = (
        r"\b(inner|outer)HTML\b|insertAdjacentHTML|document\.write\b|\beval\(|new Function\("
    )
    assert re.findall(forbidden, read(script)) == []


def test_headings_of_our_documents_go_down_one_step_at_a_time() -> None:
    documents = files_ending(".md")
    assert len(documents) >= 4
    for path in documents:
        prose = re.sub(r"^```.*?^```", "", read(path), flags=re.DOTALL | re.MULTILINE)
        depths = [len(marks) for marks in re.findall(r"^(#+) ", prose, re.MULTILINE)]
        assert depths[:1] == [1], path
        assert all(after - before <= 1 for before, after in pairwise(depths)), path
