"""Every kind of paper, page by page, beside the picture of it that somebody looked at.

A page that looks different is meant or it is not. If it is: SHOWRUN_REDRAW_PAGES=1 stores the new
pictures in `tests/flows/pages`; look at each of them before they are kept.
"""

from __future__ import annotations

import hashlib
import secrets
import shutil
from collections.abc import Callable, Iterator
from datetime import timedelta
from io import BytesIO
from itertools import count
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from PIL import Image, ImageChops
from pypdf import PdfReader

from entries.actions.charge_entry import charge_entry
from entries.actions.take_payment import take_payment
from entries.models import CampSpot, Entry
from entries.rules.ledger import Method
from judging.actions.adopt_scorecard import adopt_from_library
from judging.models import Result
from reports.actions.draw_paper import lay_out
from reports.actions.want_camp_papers import want_camp_papers
from reports.actions.want_card_papers import want_card_papers
from reports.actions.want_certificates import want_certificates
from reports.actions.want_judge_reports import want_judge_reports
from reports.actions.want_papers import want_papers
from reports.actions.want_receipt import want_receipt
from reports.actions.want_study_sheet import want_study_sheet
from reports.actions.want_wall_sheet import want_wall_sheet
from reports.models import Paper
from reports.models.paper import BUNDLES
from showrun.shows.models import Person, Show
from tests import counted_stage, judged_show, timetable_stage
from tests import papers_stage as stage
from tests.pages_of_paper import MOST_PIXELS, REDRAW, pages_of, share_apart
from tests.people import NOW, EntryFactory

KEPT = Path(__file__).parent / "pages"
MOST_PAGES = 2
NAMES = [
    "Tin Lantern",
    "The Greater Cottonwood Slough Co-operative Supper and Provision Wagon",
    "عربة المطبخ القديمة",
    "עגלת האוכל של דוד",
    "Éowyn Łódź Ñandú Þórr",
]
pytestmark = [
    pytest.mark.django_db,
    pytest.mark.skipif(not shutil.which("pdftoppm"), reason="pdftoppm is not there"),
]


@pytest.fixture(autouse=True)
def _the_same_every_time(monkeypatch: pytest.MonkeyPatch, settings, tmp_path) -> None:
    """Let the codes that papers bear follow from their order."""
    settings.MEDIA_ROOT = tmp_path
    settings.PUBLIC_URL = "https://shows.example"
    nth = count()

    def token_bytes(size: int) -> bytes:
        return hashlib.sha256(str(next(nth)).encode()).digest()[:size]

    monkeypatch.setattr(secrets, "token_bytes", token_bytes)


def of_result(show: Show) -> dict[str, Paper]:
    sections = stage.scorecard(show, n_sections=3, n_rows=4)
    counted_stage.counted_class(show, sections, method="plain", n_entries=5, purse_cents=90_000)
    for entry, name in zip(Entry.objects.filter(show=show).order_by("number"), NAMES, strict=True):
        Entry.objects.filter(pk=entry.pk).update(wagon_name=name)
    Result.objects.filter(show_class__show=show).update(inputs_hash="0" * 64, result_hash="f" * 64)
    papers = want_papers(show=show, by=None, at=stage.AT)
    papers += want_certificates(show=show, by=None, at=stage.AT)
    papers += want_judge_reports(show=show, by=None, at=stage.AT)[:1]
    # The third entry's sheets: its name is written from right to left.
    shown = [p for p in papers if p.entry is None or p.entry.number == 3 or p.kind == "award"]
    return {paper.kind: paper for paper in reversed(shown)}


def wall(_: Show) -> Paper:
    at = timetable_stage.PUBLISHED_AT + timedelta(days=1)
    return want_wall_sheet(show=timetable_stage.planned(5, 3), by=None, at=at)


def card(_: Show) -> Paper:
    show = judged_show.build_show()
    judged_show.draw_panel(show)
    return want_card_papers(
        judge=judged_show.judge_of(show), entry=None, by=judged_show.office_of(show),
        at=judged_show.AT,
    )  # fmt: skip


def camp(show: Show, kind: Paper.Kind) -> Paper:
    for number, name in enumerate(NAMES[:4], start=1):
        spot = CampSpot.objects.create(show=show, number=number, x_ft=50.0 * number, y_ft=0)
        EntryFactory.create(
            show=show, number=number, status="confirmed", wagon_name=name, spot=spot,
            outfit="Two Kettle Outfit",
        )  # fmt: skip
    return want_camp_papers(show=show, kind=kind, by=None, at=NOW)


def study(show: Show) -> Paper:
    adopt_from_library(show=show, code="wagon_harness_camp", by=None, at=stage.AT)
    return want_study_sheet(show=show, by=None, at=stage.AT)


OF_SHOW: dict[str, Callable[[Show], Paper]] = {
    "wall": wall,
    "card": card,
    "signs": lambda show: camp(show, Paper.Kind.SIGNS),
    "plates": lambda show: camp(show, Paper.Kind.PLATES),
    "study": study,
}
OF_RESULT = ("award", "feedback", "certificate", "record", "calls", "purse", "report")


def demand_as_kept(paper: Paper, folder: Path) -> None:
    """Hold the paper's first pages against the kept pictures."""
    pages = pages_of(lay_out(paper).data, folder, MOST_PAGES)
    names = [KEPT / f"{paper.kind}-{n}.png" for n in range(1, len(pages) + 1)]
    if REDRAW:
        KEPT.mkdir(exist_ok=True)
        for old in KEPT.glob(f"{paper.kind}-*.png"):
            old.unlink()
        for name, page in zip(names, pages, strict=True):
            page.quantize(32).save(name, optimize=True)
    assert sorted(KEPT.glob(f"{paper.kind}-*.png")) == names
    for name, page in zip(names, pages, strict=True):
        apart = share_apart(page, Image.open(name).convert("L"))
        page.save(folder / name.name)
        assert apart <= MOST_PIXELS, f"{name.name}: {apart:.2%}; as drawn: {folder / name.name}"


def test_papers_of_a_result_look_as_they_did(tmp_path: Path) -> None:
    papers = of_result(stage.show())
    assert set(papers) == set(OF_RESULT)
    for paper in papers.values():
        demand_as_kept(paper, tmp_path)


@pytest.mark.parametrize("kind", OF_SHOW)
def test_papers_of_a_show_look_as_they_did(kind: str, tmp_path: Path) -> None:
    paper = OF_SHOW[kind](stage.show())
    assert paper.kind == kind
    demand_as_kept(paper, tmp_path)


def test_a_receipt_looks_as_it_did(entry: Entry, office: Person, tmp_path: Path) -> None:
    Show.objects.update(entry_fee_cents=15000)
    Entry.objects.filter(pk=entry.pk).update(wagon_name=NAMES[1], number=7)
    charge_entry(entry=Entry.objects.get(pk=entry.pk), by=office, at=NOW)
    posting = take_payment(
        entry=Entry.objects.get(pk=entry.pk), cents=20000, method=Method.CHEQUE, reference="1044",
        key=uuid4(), by=office, at=NOW,
    )  # fmt: skip
    demand_as_kept(want_receipt(posting=posting, by=None, at=NOW), tmp_path)


def test_every_kind_has_its_pictures() -> None:
    kinds = {page.name.rpartition("-")[0] for page in KEPT.glob("*.png")}
    assert kinds == {*OF_RESULT, *OF_SHOW, "receipt"} == set(Paper.Kind.values) - set(BUNDLES)


def _changed(page: Image.Image) -> Iterator[tuple[str, Image.Image]]:
    yield "moved by a line", ImageChops.offset(page, 0, 7)
    yield "moved to the side", ImageChops.offset(page, 8, 0)
    gone = page.copy()
    gone.paste(255, (0, page.height // 2, page.width, page.height // 2 + 24))
    yield "two lines gone", gone


def test_a_page_moved_or_with_lines_gone_is_noticed() -> None:
    page = Image.open(KEPT / "feedback-1.png").convert("L")
    assert share_apart(page, page) == 0
    for what, changed in _changed(page):
        assert share_apart(page, changed) > MOST_PIXELS, what


def test_names_from_right_to_left_are_drawn_with_fonts_of_ours(settings: Any) -> None:
    show = stage.show()
    stage.released_class(show, stage.scorecard(show, n_sections=1, n_rows=2), n_entries=4,
                         wagon_names=NAMES)  # fmt: skip
    sheets = want_papers(show=show, by=None, at=stage.AT)
    fonts = set()
    for paper in sheets:
        if paper.kind == "feedback" and paper.entry and paper.entry.number in (3, 4):
            reader = PdfReader(BytesIO(lay_out(paper).data))
            for page in reader.pages:
                resources: Any = page["/Resources"]
                drawn_with = resources["/Font"].values()
                fonts |= {str(font.get_object()["/BaseFont"]) for font in drawn_with}
    used = {font.partition("+")[2] for font in fonts}
    assert any(font.startswith("Noto-Sans-Hebrew") for font in used), used
    assert any(font.startswith("Plex-Sans-Arabic") for font in used), used
    assert not [font for font in used if "DejaVu" in font or "Liberation" in font], used
