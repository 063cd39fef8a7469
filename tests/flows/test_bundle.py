"""All papers in one file: a ZIP with index and checksums, and a book with bookmarks."""

from __future__ import annotations

import csv
import hashlib
import io
import zipfile
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from pypdf import PdfReader

from judging.models import Section
from reports import tasks
from reports.actions.draw_paper import draw_paper, lay_out
from reports.actions.redo_papers import redo_paper
from reports.actions.want_bundle import want_bundle
from reports.actions.want_papers import want_papers
from reports.models import Paper
from reports.queries.bundles import parts_of
from reports.queries.contents import title_of
from reports.rules.bundle import CHECKSUMS, INDEX
from showrun.errors import NotYet
from showrun.shows.models import Person, Show
from tests import papers_stage as stage
from tests.drawn_papers import demand_accessible, demand_inside, draw_plainly
from tests.kept import kept_for_module

pytestmark = pytest.mark.django_db
AT = stage.AT


@pytest.fixture(autouse=True)
def _apart(monkeypatch: pytest.MonkeyPatch, settings, tmp_path) -> None:
    """Keep files apart and let no queue be asked."""
    settings.MEDIA_ROOT = tmp_path
    monkeypatch.setattr(tasks, "ask_for", lambda paper: None)


@pytest.fixture
def _plainly(monkeypatch: pytest.MonkeyPatch) -> None:
    """A bundle packs any files; what they look like is tested where they are drawn."""
    draw_plainly(monkeypatch)


plainly = pytest.mark.usefixtures("_plainly")


@pytest.fixture(scope="module")
def kept_pk(django_db_setup: None, django_db_blocker: Any) -> Iterator[int]:
    """Two wagons judged."""
    with kept_for_module(django_db_blocker):
        made = stage.show()
        stage.released_class(made, stage.scorecard(made, n_sections=2, n_rows=3), n_entries=2)
        yield made.pk


@pytest.fixture
def show(kept_pk: int, db: None) -> Show:
    return Show.objects.get(pk=kept_pk)


@pytest.fixture
def office(show: Show) -> Person:
    return stage.person("Nora Amsel", "office", show=show)


def drawn(papers: list[Paper]) -> list[Paper]:
    return [done for paper in papers if (done := draw_paper(paper_id=paper.pk, at=AT))]


@plainly
def test_a_bundle_holds_every_paper_with_index_and_checksums(show: Show, office: Person) -> None:
    papers = drawn(want_papers(show=show, by=office, at=AT))
    bundle = want_bundle(show=show, kind=Paper.Kind.BUNDLE, by=office, at=AT)
    (done,) = drawn([bundle])
    assert done.state == Paper.State.DONE
    assert str(done.file.name).endswith(".zip")
    assert done.download_name.endswith(".zip")
    with done.file.open("rb") as file, zipfile.ZipFile(io.BytesIO(file.read())) as archive:
        assert archive.testzip() is None
        index = list(csv.DictReader(io.StringIO(archive.read(INDEX).decode())))
        lines = archive.read(CHECKSUMS).decode().splitlines()
        sums = {name: digest for digest, name in (line.split("  ") for line in lines)}
        assert set(archive.namelist()) == {INDEX, CHECKSUMS, *sums}
        for row in index:
            data = archive.read(row["File"])
            assert hashlib.sha256(data).hexdigest() == row["SHA-256"] == sums[row["File"]]
            assert len(PdfReader(io.BytesIO(data)).pages) == int(row["Pages"])
    assert sorted(row["Code"] for row in index) == sorted(paper.code_printed for paper in papers)
    assert done.pages == sum(paper.pages or 0 for paper in papers)


def test_a_book_has_all_pages_and_a_bookmark_for_each_paper(show: Show, office: Person) -> None:
    # Sheets of two pages and of one.
    want_papers(show=show, by=office, at=AT)
    few = Paper.objects.filter(kind__in=("award", "feedback", "calls"))
    Paper.objects.exclude(pk__in=few.exclude(entry__number=2)).delete()
    papers = drawn(list(Paper.objects.all()))
    assert {1, 2} == {paper.pages for paper in papers}
    book = want_bundle(show=show, kind=Paper.Kind.BOOK, by=office, at=AT)
    made = lay_out(book)
    assert made.pages == sum(paper.pages or 0 for paper in papers)
    demand_accessible(made)
    demand_inside(made)
    reader = PdfReader(io.BytesIO(made.data))
    tops = [mark for mark in reader.outline if not isinstance(mark, list)]
    begins = [reader.get_destination_page_number(mark) for mark in tops]  # type: ignore[arg-type]
    expected, at_page = [], 0
    for paper in parts_of(book):
        expected.append(at_page)
        at_page += paper.pages or 0
    assert set(expected) <= set(begins)
    assert reader.metadata is not None
    assert reader.metadata.title == title_of(book)
    assert lay_out(book).data == made.data


@plainly
def test_no_paper_is_left_out_in_silence(show: Show, office: Person) -> None:
    with pytest.raises(NotYet, match="no papers"):
        want_bundle(show=show, kind=Paper.Kind.BUNDLE, by=office, at=AT)
    papers = want_papers(show=show, by=office, at=AT)
    drawn(papers[1:])
    with pytest.raises(NotYet, match=f"1 of {len(papers)} papers are not ready"):
        want_bundle(show=show, kind=Paper.Kind.BUNDLE, by=office, at=AT)


@plainly
def test_asked_again_it_is_the_same_until_the_papers_are_others(show: Show, office: Person) -> None:
    drawn(want_papers(show=show, by=office, at=AT))
    first = want_bundle(show=show, kind=Paper.Kind.BUNDLE, by=office, at=AT)
    assert want_bundle(show=show, kind=Paper.Kind.BUNDLE, by=office, at=AT) == first
    (done,) = drawn([first])
    redo_paper(paper=done, by=office, at=AT)
    (again,) = drawn([done])
    assert again.content_hash == done.content_hash
    sections = list(Section.objects.filter(scorecard__show=show).order_by("position"))
    ranch = stage.released_class(show, sections, code="ranch", n_entries=2)
    drawn([paper for paper in want_papers(show=show, by=office, at=AT) if paper.result == ranch])
    second = want_bundle(show=show, kind=Paper.Kind.BUNDLE, by=office, at=AT + timedelta(hours=1))
    assert second.version == first.version + 1


@plainly
def test_a_file_that_is_not_the_one_drawn_is_noticed(show: Show, office: Person) -> None:
    papers = drawn(want_papers(show=show, by=office, at=AT))
    bundle = want_bundle(show=show, kind=Paper.Kind.BUNDLE, by=office, at=AT)
    with papers[0].file.storage.open(str(papers[0].file.name), "wb") as file:
        file.write(b"%PDF-1.7 something else")
    (failed,) = drawn([bundle])
    assert failed.state == Paper.State.FAILED
    assert "is not the one that was drawn" in failed.error
    # The paper drawn again, the same button packs the bundle after all.
    redo_paper(paper=papers[0], by=office, at=AT)
    drawn([papers[0]])
    again = want_bundle(show=show, kind=Paper.Kind.BUNDLE, by=office, at=AT)
    assert (again, again.state) == (bundle, Paper.State.WANTED)
    (done,) = drawn([again])
    assert (done.state, done.error) == (Paper.State.DONE, "")


@plainly
def test_the_office_makes_and_fetches_it_nobody_else(show: Show, office: Person) -> None:
    papers = drawn(want_papers(show=show, by=office, at=AT))
    client = Client()
    client.force_login(office)
    page = client.post(f"/shows/{show.slug}/office/papers/", {"deed": "bundle"}, follow=True)
    assert "bundle of papers, printing 1, will be drawn now" in page.content.decode()
    (done,) = drawn([Paper.objects.get(kind=Paper.Kind.BUNDLE)])
    answer = client.get(f"/papers/{done.pk}/file")
    assert answer.status_code == 200
    assert answer["Content-Type"] == "application/zip"
    entry = next(paper.entry for paper in papers if paper.entry)
    client.force_login(entry.exhibitor)
    assert client.get(f"/papers/{done.pk}/file").status_code in (403, 404)
