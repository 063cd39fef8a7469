"""One feedback sheet drawn, beside bare WeasyPrint on the same HTML."""

from __future__ import annotations

from collections.abc import Iterator
from unittest import mock

from django.db import connection
from django.test.utils import CaptureQueriesContext
from weasyprint import HTML

from reports import pdf
from reports.actions.draw_paper import lay_out
from reports.models import Paper
from tests import papers_stage
from tests.benchmarks.measure import Bound, Row, paired

NAME = "sheet"
ENTRIES = 40
ROWS = 12
REPEATS = 7
AT_MOST = 1.3


def a_paper() -> Paper:
    """Return a feedback sheet of a released class of 40 entries."""
    show = papers_stage.show("sheet")
    sections = papers_stage.scorecard(show, n_rows=ROWS)
    result = papers_stage.released_class(show, sections, n_entries=ENTRIES)
    entry = result.placings.select_related("entry")[1].entry
    paper = Paper.objects.create(
        show=show,
        show_class=result.show_class,
        entry=entry,
        result=result,
        kind=Paper.Kind.FEEDBACK,
        version=result.version,
        code="BENCH0000001",
        wanted_at=papers_stage.AT,
    )
    return Paper.objects.select_related("show", "show_class", "entry", "result").get(pk=paper.pk)


def html_of(paper: Paper) -> str:
    """Return the page the paper is drawn from."""
    with mock.patch.object(pdf, "draw") as draw:
        lay_out(paper)
    return str(draw.call_args.args[0])


def rows() -> Iterator[Row]:
    """Measure from the database rows to the file."""
    paper = a_paper()
    with CaptureQueriesContext(connection) as asked:
        html = html_of(paper)
        queries = len(asked)

    def bare() -> None:
        HTML(string=html, base_url=pdf.SCHEME, url_fetcher=pdf.OwnAssets()).write_pdf(
            pdf_variant="pdf/ua-1"
        )

    pages: list[int] = []
    found = paired(lambda: pages.append(lay_out(paper).pages), bare, repeats=REPEATS)
    yield Row(
        NAME,
        "one feedback sheet; bare WeasyPrint on the same HTML",
        found.ours_ms,
        found.floor_ms,
        found.ratio,
        (Bound("ratio", found.ratio, AT_MOST),),
        f"{pages[0]} page{'s' if pages[0] > 1 else ''}, {queries} queries",
    )
