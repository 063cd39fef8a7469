"""The guides: what they name exists, their links and pictures are there, they are easy to read."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest
from django.urls import reverse
from django.urls.exceptions import NoReverseMatch
from PIL import Image

from showrun.shows.web.guides import FOLDER, NAMES, STATIC
from tests.house.reading_grade import grade, prose_of
from tests.house.tree import ROOT, project_files, read

GUIDES = {name: (FOLDER / f"{name}.md").read_text(encoding="utf-8") for name in NAMES}
FOR_PEOPLE = ("office", "judge", "exhibitor")
LARGEST_GRADE = 6.0
PAGES = re.compile(r"`((?:shows|entries|judging|reports):[\w-]+)`")


@cache
def sources() -> str:
    """Everything a page may say: sources and templates, strings joined, blanks made one."""
    texts = []
    for path in project_files():
        if path.suffix in {".py", ".html", ".ts"} and path.parts[0] in {
            *("entries", "judging", "reports", "showrun"),
        }:
            texts.append(re.sub(r'"\s*\n\s*f?"', "", read(path)))
    return " ".join(" ".join(texts).split())


def rows() -> list[list[str]]:
    """The rows of every table of the rules, without their heads."""
    lines = [line for line in GUIDES["rules_to_software"].splitlines() if line.startswith("| ")]
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]
    return [row for row in cells if row[0] != "Our show does this"]


def test_every_file_of_the_folder_is_a_guide():
    assert {path.stem for path in FOLDER.iterdir()} == set(NAMES)


def test_the_rules_name_pages_and_settings_that_are_there():
    assert len(rows()) >= 40
    for does, setting, page, said in rows():
        (named,) = PAGES.findall(page) or [""]
        assert named, does
        for label in re.findall(r"\*\*([^*]+)\*\*", setting):
            assert re.search(rf"[\"'>(]{re.escape(label)}", sources()), f"{does}: {label}"
        for words in re.findall(r"“([^”]+)”", said):
            assert words in sources(), f"{does}: {words}"
        assert said, does


@pytest.mark.parametrize("name", NAMES)
def test_every_page_a_guide_names_has_an_address(name: str):
    for page in PAGES.findall(GUIDES[name]):
        for given in ([], ["x"], ["x", 1], ["x", 1, 1], [1]):
            try:
                assert reverse(page, args=given)
                break
            except NoReverseMatch:
                continue
        else:
            raise AssertionError(f"{name}: {page}")


@pytest.mark.parametrize("name", NAMES)
def test_what_a_guide_links_to_and_shows_is_there(name: str):
    for words, target in re.findall(r"(?<!!)\[([^\]]+)\]\(([^)]+)\)", GUIDES[name]):
        assert re.fullmatch(r"\w+\.md(#[\w-]+)?", target), f"{words} leads out of the guides"
        assert target.partition(".md")[0] in NAMES, target
    for words, target in re.findall(r"!\[([^\]]*)\]\(([^)]+)\)", GUIDES[name]):
        assert len(words) > 20, target
        assert target.startswith(f"{STATIC}show/guides/"), target
        picture = (FOLDER / target).resolve()
        assert picture.stat().st_size < 150_000, target
        with Image.open(picture) as shown:
            assert shown.format == "PNG"


def test_every_picture_is_shown_and_together_they_are_small():
    folder = ROOT / "showrun/project/static/show/guides"
    files = {path.name for path in folder.iterdir()}
    shown = set(re.findall(r"show/guides/([\w.-]+)", " ".join(GUIDES.values())))
    assert files == shown
    assert sum(path.stat().st_size for path in folder.iterdir()) < 700_000


@pytest.mark.parametrize("name", NAMES)
def test_a_guide_has_one_title_and_says_first_what_it_is_for(name: str):
    first, empty, lede, *_ = GUIDES[name].splitlines()
    assert first.startswith("# ")
    assert (empty, lede[:1].isupper()) == ("", True)
    assert len(re.findall(r"^# ", GUIDES[name], re.MULTILINE)) == 1
    assert not re.search(r"<\w", GUIDES[name]), "raw HTML is off"


@pytest.mark.parametrize("name", FOR_PEOPLE)
def test_the_guides_for_people_read_easily(name: str):
    text = prose_of(GUIDES[name])
    assert len(text.split()) > 300
    assert grade(text) <= LARGEST_GRADE
    # Ten minutes: 200 words a minute leave time to look at the pictures.
    assert len(text.split()) < 1_500


@pytest.mark.parametrize("path", ["README.md", "DEVELOPERS.md"])
def test_the_way_to_the_guides_is_told(path: str):
    assert "showrun/guides" in read(Path(path))
