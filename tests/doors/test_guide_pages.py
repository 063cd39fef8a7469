"""The guides as anybody reads them: drawn from Markdown, pictures ours, nothing raw."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from django.test import Client
from django.urls import reverse

from showrun.shows.web import guides
from showrun.shows.web.guides import NAMES, read_guide

pytestmark = pytest.mark.django_db


def read(address: str, status: int = 200) -> str:
    answer = Client().get(address)
    assert answer.status_code == status
    return str(answer.content.decode())


def test_the_list_leads_to_every_guide_and_every_page_leads_to_the_list():
    page = read(reverse("shows:guides"))
    for name in NAMES:
        assert f'href="{reverse("shows:guide", args=[name])}"' in page
        assert read_guide(name).lede[:40] in page.replace("&#x27;", "'")
    assert f'href="{reverse("shows:guides")}"' in read("/")


@pytest.mark.parametrize("name", NAMES)
def test_a_guide_is_drawn_with_our_pictures_and_links_that_lead_somewhere(name: str):
    page = read(reverse("shows:guide", args=[name]))
    body = re.search(r'<article class="guide" lang="en">(.*?)</article>', page, re.DOTALL)
    assert body
    assert body[1].count("<h1") == 1
    for source in re.findall(r'<img src="([^"]+)"', body[1]):
        assert source.startswith("/static/show/guides/"), source
        assert finders.find(source.removeprefix("/static/")), source
    assert "<img" not in re.sub(r'<img src="[^"]+" alt="[^"]{20,}" loading="lazy" />', "", body[1])
    for target in set(re.findall(r'href="([^"#]+)', body[1])):
        read(target)
    ids = re.findall(r' id="([^"]+)"', page)
    assert len(ids) == len(set(ids))


def test_a_table_scrolls_by_itself_on_a_phone():
    page = read(reverse("shows:guide", args=["rules_to_software"]))
    assert page.count('<table class="ledger">') == page.count('<div class="scroll" role="region"')
    assert page.count("<table") == 5


def test_what_is_raw_is_written_out_and_nothing_else_is_read(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
):
    hostile = "# Title\n\n<script>alert(1)</script>\n\n[x](javascript:alert(1)) <b>bold</b>\n"
    (tmp_path / "office.md").write_text(hostile)
    monkeypatch.setattr(guides, "FOLDER", tmp_path)
    read_guide.cache_clear()
    try:
        body = read_guide("office").body
    finally:
        read_guide.cache_clear()
    assert "<script" not in body
    assert "&lt;script&gt;" in body
    assert "<b>" not in body
    assert 'href="javascript' not in body
    read("/guides/nothing/", 404)
    read("/guides/..%2F..%2FDEVELOPERS/", 404)
