"""Papers as a test reads them back: their words, their place on the page, their tags."""

from __future__ import annotations

from io import BytesIO
from typing import Any

import page
from pypdf import PdfReader

from judging.models import Result
from reports import pdf
from reports.actions.want_papers import want_papers
from reports.models import Paper
from tests import papers_stage as stage


def papers(result: Result, kind: str) -> list[Paper]:
    """Want the papers of a result, and return those of a kind."""
    made = want_papers(show=result.show_class.show, by=None, at=stage.AT)
    return [one for one in made if one.kind == kind and one.result_id == result.pk]


def paper_of(result: Result, kind: str, number: int) -> Paper:
    """Return the paper of the entry with this number."""
    return next(one for one in papers(result, kind) if one.of_result[1].number == number)


def text(drawn: pdf.Drawn) -> str:
    """Return what stands on all pages, every break a blank."""
    reader = PdfReader(BytesIO(drawn.data))
    words = " ".join(sheet.extract_text() for sheet in reader.pages)
    return " ".join(words.split())


def letters(words: str) -> str:
    """Return the words without their blanks, as a line broken anywhere leaves them."""
    return "".join(words.split())


def demand_accessible(drawn: pdf.Drawn) -> None:
    """The file holds to PDF/UA-1."""
    report = page.validate_pdf_bytes(drawn.data, profile=page.ValidationProfile.PDF_UA_1)
    assert report.rules.total > 100
    assert [(one.rule_id, one.message) for one in report.failures] == []
    assert report.rules.failed == 0


def demand_inside(drawn: pdf.Drawn) -> None:
    """Every word begins on its page."""
    for sheet in PdfReader(BytesIO(drawn.data)).pages:
        _inside(sheet)


def _inside(sheet: Any) -> None:
    width, height = float(sheet.mediabox.width), float(sheet.mediabox.height)

    def look(words: str, cm: Any, tm: Any, *_: Any) -> None:
        if words.strip():
            x = tm[4] * cm[0] + tm[5] * cm[2] + cm[4]
            y = tm[4] * cm[1] + tm[5] * cm[3] + cm[5]
            assert 0 < x < width
            assert 0 < y < height

    sheet.extract_text(visitor_text=look)
