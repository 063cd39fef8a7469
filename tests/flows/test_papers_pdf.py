"""From a released class to the paper in the hand: what it says, and how it is built."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from decimal import Decimal
from io import BytesIO
from typing import Any

import pytest
from pypdf import PdfReader
from weasyprint.urls import URLFetchingError

from entries.models import CrewMember, Entry
from judging.models import CardMark, Criterion, Placing, Remark, Result
from reports import pdf
from reports.actions.draw_paper import lay_out
from reports.models import Paper
from showrun.errors import Conflict
from showrun.shows.models import ShowClass
from tests import papers_stage as stage
from tests.drawn_papers import (
    demand_accessible,
    demand_inside,
    demand_sound,
    letters,
    pages_of,
    paper_of,
    text,
    words_of,
)
from tests.kept import kept_for_module

pytestmark = pytest.mark.django_db
AT = stage.AT
FRAME = '<html lang="en"><head><title>T</title></head><body><h1>T</h1>{}</body></html>'


@pytest.fixture(scope="module")
def kept_pk(django_db_setup: None, django_db_blocker: Any) -> Iterator[int]:
    """The full card of a small class."""
    with kept_for_module(django_db_blocker):
        made = stage.show("kept")
        yield stage.released_class(made, stage.scorecard(made), n_entries=3).pk


@pytest.fixture
def result(kept_pk: int, db: None) -> Result:
    return Result.objects.get(pk=kept_pk)


def test_an_award_sheet_says_who_won_what(result: Result) -> None:
    paper = paper_of(result, "award", 1)
    drawn = demand_sound(paper)
    said = text(drawn)
    placing = Placing.objects.get(result=result, entry=paper.entry)
    assert drawn.pages == 1
    for words in (
        "Lantern Draw Chuckwagon Days",
        "First place",
        "Trail wagon",
        "Tin Lantern",
        "Two Kettle Outfit",
        "Head cook Ada Moor",
        f"{placing.total} of 300 points",
        "Mara Ellison",
        "Jonah Petrie",
        "15 May 2027, 14:00 MDT",
        paper.code_printed,
    ):
        assert words in said


def test_a_feedback_sheet_tells_the_points_the_rows_and_the_words(result: Result) -> None:
    paper = paper_of(result, "feedback", 2)
    stage.raise_concern(paper.of_result[1], "mend", "Near line worn thin at the bit buckle.")
    said = text(demand_sound(paper))
    placing = Placing.objects.get(result=result, entry=paper.entry)
    for points in placing.by_section.values():
        assert points in said
    for words in (
        "Second place",
        "Could not be inspected, left out: Spokes and felloes 2 (1 of 3 judges)",
        "Does not apply, left out: Tires 3 (3 of 3 judges)",
        "Rig as judged: drop tongue, team of two, leather tugs, civil pattern, pole straps.",
        "4 of 5 rows belong to this rig",
        "Strongest",
        "Worth work before the next show",
        "Joinery plain and right",
        "Mend before moving: Near line worn thin",
        "A score or a concern is not a safety inspection",
        "competent harness maker or wheelwright",
        "What decides, declared before judging. Plain total: all judges’ points added.",
        "How this class was judged",
        "Zero is a mark: the judge looked and gave nothing.",
        "A row that could not be inspected is left out in the same way.",
        "Version 1 of the result",
        paper.code_printed,
        f"/papers/check/{paper.code_printed}/",
    ):
        assert words in said


def test_judges_stay_unnamed_and_printed_points_add_up(result: Result) -> None:
    paper = paper_of(result, "feedback", 3)
    said = words_of(paper)
    assert "Judge No" not in said
    assert "Judge A" in said
    sums = said.split("How the total adds up")[1]
    for points in Placing.objects.get(result=result, entry=paper.entry).by_section.values():
        before = sums.split(f" {points} ")[0].split()
        shares = before[-5::2]
        assert sum(map(Decimal, shares)) == Decimal(points)


def test_a_sheet_never_prints_marks_changed_after_the_result(result: Result) -> None:
    paper = paper_of(result, "feedback", 1)
    mark = CardMark.objects.filter(card__entry=paper.entry, state="marked").first()
    assert mark is not None and mark.value is not None
    mark.value -= 1
    mark.save()
    with pytest.raises(Conflict, match="changed after"):
        lay_out(paper)


def test_an_adjusted_class_shows_both_figures() -> None:
    show = stage.show()
    result = stage.released_class(
        show, stage.scorecard(show, n_sections=2), n_entries=2, method="judge_adjusted"
    )
    for placing in result.placings.all():
        placing.plain_total = placing.total
        placing.by_section["s0"] = str(Decimal(placing.by_section["s0"]) + Decimal("0.37"))
        placing.total += Decimal("0.37")
        placing.save()
    paper = paper_of(result, "feedback", 1)
    said = words_of(paper)
    assert "Adjusted" in said
    assert "a generous or a strict judge" in said
    assert str(Placing.objects.get(result=result, entry=paper.entry).total) in said
    Placing.objects.filter(result=result).update(plain_total=Decimal(1))
    with pytest.raises(Conflict, match="All sections"):
        lay_out(paper)


def test_the_same_paper_drawn_again_is_the_same_file(result: Result) -> None:
    paper = paper_of(result, "feedback", 2)
    assert lay_out(paper).data == lay_out(Paper.objects.get(pk=paper.pk)).data


@pytest.mark.parametrize("size", ["letter", "a4"])
def test_paper_sizes(result: Result, size: str, settings) -> None:
    settings.PAPER_SIZE = size
    drawn = lay_out(paper_of(result, "feedback", 1))
    box = PdfReader(BytesIO(drawn.data)).pages[0].mediabox
    assert (round(box.width), round(box.height)) == {"letter": (612, 792), "a4": (595, 842)}[size]


@pytest.mark.parametrize(
    ("n_entries", "n_sections", "n_rows", "n_judges"), [(2, 1, 1, 1), (12, 5, 12, 3)]
)
def test_small_and_large_classes_fit(
    n_entries: int, n_sections: int, n_rows: int, n_judges: int
) -> None:
    show = stage.show()
    sections = stage.scorecard(show, n_sections=n_sections, n_rows=n_rows)
    result = stage.released_class(
        show, sections, n_entries=n_entries, n_judges=n_judges, remarks=n_entries > 2
    )
    drawn = lay_out(paper_of(result, "feedback", 2))
    assert drawn.pages <= 2
    demand_accessible(drawn)
    if n_entries == 2:
        assert "The judges left no remarks on this entry." in text(drawn)


@pytest.mark.parametrize(
    "name",
    [
        "Señor Björn Łukaszewicz-Dvořák and the Grand Old Provisions Company of Ántonia",
        "עגלת האוכל של דוד",
        "W" * 80,
        "<b>Bold</b> & 'sons' \"Ltd\" {{ 7|add:7 }}",
    ],
)
def test_names_of_all_kinds_stay_on_the_page(name: str) -> None:
    show = stage.show(name="The Long Named Gathering of Chuckwagon Outfits " + "from Afar " * 7)
    result = stage.released_class(
        show, stage.scorecard(show), n_entries=3, wagon_names=[name], remarks=False
    )
    Entry.objects.filter(show=show).update(outfit=("Outfit of " + name)[:80])
    for kind, most in (("award", 1), ("feedback", 2)):
        drawn = lay_out(paper_of(result, kind, 1))
        assert drawn.pages <= most
        demand_accessible(drawn)
        demand_inside(drawn)
        if kind == "award" and name.isascii():
            assert letters(name) in letters(text(drawn))


def test_the_longest_names_leave_the_signatures_their_room() -> None:
    long = "Grand Old Provisions Company of the Far Valley and of its Neighbours and Friends "
    show = stage.show(name=(long * 2)[:120])
    show.ground = (long * 2)[:160]
    show.save()
    result = stage.released_class(show, stage.scorecard(show), n_entries=2, wagon_names=["W" * 80])
    ShowClass.objects.filter(show=show).update(name=(long * 2)[:120])
    Entry.objects.filter(show=show).update(outfit=long[:80])
    CrewMember.objects.filter(role="head_cook").update(name=(long * 2)[:120])
    # The longest sentence of a method, a purse shared, and the cards of wagons missing.
    gaps = [
        {"entry": entry, "judge": judge, "section": section, "rows": 0, "handed_in": False}
        for entry in range(1, 6)
        for judge, section in (("J1", "s0"), ("J2", "s3"), ("J3", "s4"))
    ]
    Result.objects.filter(pk=result.pk).update(method="crossed", gaps=gaps, gaps_accepted_at=AT)
    result.placings.update(purse_cents=123_456, place=1)
    drawn = lay_out(paper_of(result, "award", 1))
    assert drawn.pages == 1
    demand_inside(drawn)
    heights: dict[str, float] = {}

    def look(words: str, cm, tm, *_) -> None:
        for name in ("Purse", "Mara", "Crossed effects"):
            if name in words:
                heights[name] = tm[4] * cm[1] + tm[5] * cm[3] + cm[5]

    PdfReader(BytesIO(drawn.data)).pages[0].extract_text(visitor_text=look)
    assert heights["Purse"] > heights["Mara"] + 40
    assert heights["Mara"] > heights["Crossed effects"] + 9


def test_the_longest_remarks_make_more_pages_and_lose_nothing(result: Result) -> None:
    paper = paper_of(result, "feedback", 1)
    for number, remark in enumerate(Remark.objects.filter(card__entry=paper.entry)):
        remark.text = f"Remark {number}: " + "sound and well kept " * 14
        remark.save()
    count = Remark.objects.filter(card__entry=paper.entry).count()
    drawn = lay_out(paper)
    assert drawn.pages <= 3
    said = text(drawn)
    assert all(f"Remark {number}:" in said for number in range(count))


def test_who_signed_and_when_never_stands_on_a_page_alone(result: Result) -> None:
    paper = paper_of(result, "feedback", 2)
    counts = set()
    for number in range(16):  # line by line over the foot of the second page
        stage.raise_concern(paper.of_result[1], "note", f"Concern {number}.")
        pages = pages_of(lay_out(paper))
        counts.add(len(pages))
        (last,) = [page for page in pages if "Version 1 of the result" in page]
        assert "How this class was judged" in last
    assert counts == {2, 3}


def test_rows_that_count_more_than_once_are_mentioned(result: Result) -> None:
    paper = paper_of(result, "feedback", 1)
    assert "counting more than once" not in words_of(paper)
    # The first row of another rig: the points stay as they were.
    Criterion.objects.filter(applies={"tongue": ["stiff"]}).update(weight=2)
    assert "counting more than once" in words_of(paper)


@pytest.mark.parametrize(
    "address",
    [
        "file:///etc/passwd",
        "http://127.0.0.1:1/x.png",
        "https://shows.example/x.png",
        "data:text/css,h1{display:none}",
        "asset:show/../../../manage.py",
        "asset:admin/css/base.css",
        "asset:reports/none.css",
    ],
)
def test_only_our_own_assets_are_loaded(address: str) -> None:
    with pytest.raises(ValueError, match=r"own assets only|no asset"):
        pdf.OwnAssets().fetch(address)
    html = FRAME.format(
        f'<p>Here</p><img alt="x" src="{address}"><link rel="attachment" href="{address}">'
    )
    drawn = pdf.draw(html, title="T", lang="en", made_at=datetime(2027, 5, 15, tzinfo=UTC))
    reader = PdfReader(BytesIO(drawn.data))
    assert not reader.attachments
    assert "Here" in reader.pages[0].extract_text()


def test_a_sheet_is_the_same_after_others_and_where_every_style_is_read_anew(
    result: Result, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Sheets of one thread share what was read of styles and fonts; none may mark the next."""
    papers = [paper_of(result, kind, 1) for kind in ("award", "feedback")]
    first = [lay_out(paper).data for paper in papers]
    again = [lay_out(paper).data for paper in reversed(papers)]
    assert again == first[::-1]
    alone = pdf.Styles()
    monkeypatch.setattr(alone, "taken_from", lambda _page: [])  # the links stay, and are followed
    monkeypatch.setattr(pdf, "STYLES", alone)
    assert [lay_out(paper).data for paper in papers] == first


def test_a_style_sheet_that_is_not_there_is_no_sheet_without_style(result: Result) -> None:
    html = FRAME.replace("</head>", '<link rel="stylesheet" href="asset:reports/no.css"></head>')
    with pytest.raises(URLFetchingError, match="no asset"):
        pdf.draw(html, title="T", lang="en", made_at=datetime(2027, 5, 15, tzinfo=UTC))


def test_our_own_fonts_are_in_the_file(result: Result) -> None:
    reader = PdfReader(BytesIO(lay_out(paper_of(result, "award", 1)).data))
    fonts = reader.pages[0]["/Resources"]["/Font"].get_object()  # type: ignore[index]
    names = {str(font.get_object()["/BaseFont"]) for font in fonts.values()}
    assert any("Zilla-Slab" in name for name in names)
    assert any("Public-Sans" in name for name in names)


def test_the_file_knows_its_title_language_and_time(result: Result) -> None:
    paper = paper_of(result, "award", 1)
    reader = PdfReader(BytesIO(lay_out(paper).data))
    assert reader.metadata is not None
    assert reader.metadata.title == "Award sheet: Tin Lantern, Trail wagon"
    assert reader.metadata.creation_date == paper.wanted_at
    assert reader.trailer["/Root"]["/Lang"] == "en"  # type: ignore[index]


def test_a_parted_tie_is_told(result: Result) -> None:
    Placing.objects.filter(result=result, entry__number=2).update(decided_by="Harness")
    assert "the tie was parted by Harness" in words_of(paper_of(result, "feedback", 2))
