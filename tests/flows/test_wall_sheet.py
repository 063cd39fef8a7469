"""The wall sheet: from announced times to the PDF on the wall, and what a new announcement does."""

from __future__ import annotations

import re
from datetime import timedelta
from io import BytesIO

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from pypdf import PdfReader

from judging.actions.announce import change_times
from judging.models import Judge, Pause, Visit, Window
from reports import tasks
from reports.actions.draw_paper import draw_paper, lay_out
from reports.actions.redo_papers import redo_paper
from reports.actions.want_wall_sheet import want_wall_sheet
from reports.models import Paper
from reports.queries.papers import current_papers, papers_of
from showrun.errors import Conflict, NotYet
from showrun.shows.models import AuditEntry, Show
from tests import timetable_stage as stage
from tests.drawn_papers import (
    demand_accessible,
    demand_inside,
    demand_sound,
    draw_plainly,
    drawn_from,
    letters,
    text,
    words_of,
)

pytestmark = pytest.mark.django_db
AT = stage.PUBLISHED_AT + timedelta(days=1)


@pytest.fixture(autouse=True)
def sent(monkeypatch: pytest.MonkeyPatch, settings, tmp_path) -> list[int]:
    """Note what the queue is asked for instead of asking it; keep files apart."""
    asked: list[int] = []

    monkeypatch.setattr(tasks, "ask_for", lambda paper: asked.append(paper.pk))
    settings.MEDIA_ROOT = tmp_path
    return asked


@pytest.fixture
def show() -> Show:
    return stage.planned(5, 3)


def want(show: Show) -> Paper:
    return want_wall_sheet(show=show, by=None, at=AT)


def move_one(show: Show, code: str = "J1") -> None:
    visit = Visit.objects.filter(judge__code=code, window__show=show).earliest("starts_at")
    later = (visit.starts_at + timedelta(hours=3), visit.ends_at + timedelta(hours=3))
    change_times(
        show=show, times={(visit.judge_id, visit.entry_id): later}, reason="A broken tongue.",
        by=None, at=AT + timedelta(hours=1),
    )  # fmt: skip


def office_of(show: Show) -> Client:
    return stage.signed_in(stage.person("Nora", "office", show=show))


def test_the_sheet_says_every_visit_twice_and_whose_times_they_are(show: Show) -> None:
    Pause.objects.create(
        show=show, starts_at=stage.OPENS_AT + timedelta(minutes=20), why="Cooks' meeting",
        ends_at=stage.OPENS_AT + timedelta(minutes=30),
    )  # fmt: skip
    paper = want(show)
    said = text(demand_sound(paper))
    for words in (
        "Who judges where, and when",
        "Two Lanterns Wagon Days",
        "Announcement 1, times as of 1 May, 9:00 AM MDT.",
        "Cooks' meeting, 8:20 AM to 8:30 AM",
        "not a safety inspection",
        paper.code_printed,
    ):
        assert words in said
    by_wagon, by_judge = said.split("By wagon")[1].split("By judge")
    for visit in Visit.objects.select_related("judge__person", "entry__spot"):
        start, end = (at.astimezone(show.tz) for at in (visit.starts_at, visit.ends_at))
        span = f"{start:%-I:%M}–{end:%-I:%M}"
        assert f"{span} {visit.judge.code}" in by_wagon
        line = f"{span} spot {100 + (visit.entry.number or 0)} {visit.entry.number}. Wagon of Creek"
        assert line in by_judge
    for judge in Judge.objects.select_related("person"):
        assert f"{judge.person.name} ({judge.code})" in by_judge


def test_the_same_sheet_drawn_again_is_the_same_file(show: Show) -> None:
    paper = want(show)
    assert drawn_from(Paper.objects.get(pk=paper.pk)) == drawn_from(paper)
    done = draw_paper(paper_id=paper.pk, at=AT)
    assert done is not None
    again = redo_paper(paper=done, by=stage.person("Nora"), at=AT + timedelta(days=9))
    drawn_again = draw_paper(paper_id=again.pk, at=AT + timedelta(days=9))
    assert drawn_again is not None
    assert drawn_again.content_hash == done.content_hash


@pytest.mark.parametrize(
    ("n_wagons", "n_judges", "size"),
    [(1, 1, "letter"), (15, 5, "a4"), (40, 6, "letter"), (40, 6, "a4")],
)
def test_all_sizes_fit_on_both_papers(n_wagons: int, n_judges: int, size: str, settings) -> None:
    settings.PAPER_SIZE = size
    show = stage.planned(
        n_wagons,
        n_judges,
        wagon_names=["W" * 80, "Grand Old Provisions Company of the Far Valley and its Neighbours"],
        judge_names=["Maximilian Featherstonehaugh-Cholmondeley the Third of the Far Valley"],
    )
    paper = want(show)
    drawn = lay_out(paper)
    sheets = PdfReader(BytesIO(drawn.data)).pages
    boxes = {(round(one.mediabox.width), round(one.mediabox.height)) for one in sheets}
    assert boxes == {{"letter": (792, 612), "a4": (842, 595)}[size]}
    assert drawn.pages <= 7
    demand_accessible(drawn)
    demand_inside(drawn)
    # All wagons stand in the chart of the first page, with the key of all judges below.
    # The running line's random code may look like a row of its own.
    first = sheets[0].extract_text().replace(paper.code_printed, "")
    numbers = set(re.findall(r"(?m)^(\d+)\s*(?:W|Grand|Wagon)", first))
    assert {int(number) for number in numbers} == set(range(1, n_wagons + 1))
    assert all(f"J{n}" in first for n in range(1, n_judges + 1))
    assert "By wagon" not in first
    demand_ends_inside(sheets)


def demand_ends_inside(sheets) -> None:
    """No line of words runs over the edge of its page."""
    for sheet in sheets:
        width = float(sheet.mediabox.width)

        def look(words, cm, tm, font, size, width=width) -> None:
            if words.strip():
                x = tm[4] * cm[0] + tm[5] * cm[2] + cm[4]
                # Half an em a letter is what our font has on average, so this is no bound for
                # single letters, but a line that runs over the paper is found by it.
                scale = abs(tm[0] * cm[0]) or 1
                assert x + len(words.strip()) * size * scale * 0.4 < width, words

        sheet.extract_text(visitor_text=look)


def test_it_is_made_only_once_times_are_published() -> None:
    show = stage.planned(2, 2, published=False)
    with pytest.raises(NotYet, match="not published"):
        want(show)
    page = office_of(show).get(f"/shows/{show.slug}/office/papers/").content.decode()
    assert "Make the wall sheet" not in page
    refused = office_of(show).post(
        f"/shows/{show.slug}/office/papers/", {"deed": "wall"}, follow=True
    )
    assert "The times are not published" in refused.content.decode()
    assert not Paper.objects.exists()


def test_wanted_twice_it_is_one_sheet_and_one_line_of_the_record(show: Show) -> None:
    assert want(show) == want(show)
    assert AuditEntry.objects.filter(show=show, verb="wanted").count() == 1


def test_a_new_announcement_makes_a_new_sheet_and_replaces_the_old(
    show: Show, monkeypatch: pytest.MonkeyPatch
) -> None:
    draw_plainly(monkeypatch)
    old = draw_paper(paper_id=want(show).pk, at=AT)
    assert old is not None and old.state == Paper.State.DONE
    kept = old.file.read()
    client = office_of(show)
    check = f"/papers/check/{old.code_printed}/"
    assert "is genuine.</strong>" in client.get(check).content.decode()
    move_one(show)
    assert list(current_papers(show)) == []
    assert "Announcement 2 counts now" in client.get(check).content.decode()
    new = draw_paper(paper_id=want(show).pk, at=AT + timedelta(hours=2))
    assert new is not None and (new.version, new.state) == (2, Paper.State.DONE)
    assert list(current_papers(show)) == [new]
    assert set(papers_of(show)) == {old, new}
    said = words_of(new)
    assert "Announcement 2, times as of" in said
    assert "A broken tongue." in said
    # The old file stays as it was; it is not drawn anew from times it did not tell.
    old.refresh_from_db()
    assert old.file.read() == kept
    with pytest.raises(Conflict, match="announcement 2 counts"):
        lay_out(old)


def test_a_sheet_of_withdrawn_times_counts_no_more(
    show: Show, monkeypatch: pytest.MonkeyPatch
) -> None:
    draw_plainly(monkeypatch)
    paper = draw_paper(paper_id=want(show).pk, at=AT)
    assert paper is not None
    Window.objects.update(published_at=None)
    assert list(current_papers(show)) == []
    page = Client().get(f"/papers/check/{paper.code_printed}/").content.decode()
    assert "No times are published at present" in page
    with pytest.raises(NotYet):
        lay_out(paper)


def test_the_office_makes_and_fetches_it_and_nobody_else_does(show: Show, sent: list[int]) -> None:
    client = office_of(show)
    page = f"/shows/{show.slug}/office/papers/"
    assert "Make the wall sheet" in client.get(page).content.decode()
    client.post(page, {"deed": "wall"})
    paper = Paper.objects.get()
    assert "Make the wall sheet" not in client.get(page).content.decode()
    draw_paper(paper_id=paper.pk, at=AT)
    there = client.get(page).content.decode()
    assert "Download the wall sheet" in there
    where = f"/papers/{paper.pk}/file"
    answer = client.get(where)
    assert answer["Content-Disposition"] == 'attachment; filename="wall-two-lanterns-v1.pdf"'
    assert b"".join(answer).startswith(b"%PDF-")  # type: ignore[arg-type]
    steward = stage.signed_in(stage.person("Tobias", "steward", show=show))
    assert steward.get(where).status_code == 403
    owner = stage.signed_in(stage.entry_of(show).exhibitor)
    for other in (owner, Client(), stage.signed_in(stage.person("Someone"))):
        assert other.get(where).status_code == 404
    assert owner.get(f"/entries/{stage.entry_of(show).pk}/papers/wall/").status_code == 404
    listed = client.get(f"/api/v1/shows/{show.slug}/papers").json()["papers"]
    assert [(one["kind"], one["show_class"], one["entry"], one["replaced"]) for one in listed] == [
        ("wall", None, None, False)
    ]
    move_one(show)
    assert "wall sheet, announcement 1" in client.get(page).content.decode()
    assert client.get(f"/api/v1/papers/{paper.pk}").json()["replaced"] is True


def test_hostile_names_stay_words_on_the_sheet() -> None:
    words = "<b>Bold</b> & 'sons' \"Ltd\" {{ 7|add:7 }}"
    show = stage.planned(2, 2, wagon_names=[words, "עגלת האוכל של דוד"], judge_names=[words] * 2)
    drawn = lay_out(want(show))
    demand_accessible(drawn)
    demand_inside(drawn)
    assert letters(text(drawn)).count(letters(words)) >= 4


def test_a_sheet_is_of_a_result_or_of_the_times_whoever_writes(show: Show) -> None:
    paper = want(show)
    with pytest.raises(IntegrityError), transaction.atomic():
        Paper.objects.create(show=show, kind="award", version=1, code="A", wanted_at=AT)
    with pytest.raises(IntegrityError), transaction.atomic():
        Paper.objects.filter(pk=paper.pk).update(entry=stage.entry_of(show))
    with pytest.raises(IntegrityError), transaction.atomic():
        Paper.objects.create(show=show, kind="wall", version=1, code="B", wanted_at=AT)
