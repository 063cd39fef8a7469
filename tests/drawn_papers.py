"""Papers as a test reads them back: their words, their place on the page, their tags."""

from __future__ import annotations

import hashlib
import re
from functools import lru_cache
from html.parser import HTMLParser
from io import BytesIO
from typing import Any, NamedTuple

import page
import pytest
from pypdf import PdfReader, PdfWriter

from judging.models import Result
from reports import pdf
from reports.actions.draw_paper import lay_out
from reports.actions.lay_out_page import lay_out_page
from reports.actions.want_papers import want_papers
from reports.models import Paper
from reports.queries.contents import title_of
from tests import papers_stage as stage

MARKER = re.compile(r"•|\d+\.")  # of an item in a list


def papers(result: Result, kind: str) -> list[Paper]:
    """Want the papers of a result, and return those of a kind."""
    made = want_papers(show=result.show_class.show, by=None, at=stage.AT)
    return [one for one in made if one.kind == kind and one.result_id == result.pk]


def paper_of(result: Result, kind: str, number: int) -> Paper:
    """Return the paper of the entry with this number."""
    return next(one for one in papers(result, kind) if one.of_result[1].number == number)


def text(drawn: pdf.Drawn) -> str:
    """Return what stands on all pages, every break a blank."""
    return " ".join(" ".join(pages_of(drawn)).split())


def pages_of(drawn: pdf.Drawn) -> list[str]:
    """Return what stands on each page, every break a blank."""
    return [" ".join(sheet.words.split()) for sheet in _read(drawn.data)]


def words_of(paper: Paper) -> str:
    """Return what stands on the paper's page, every break a blank, without drawing the file.

    It costs a twentieth of `text(lay_out(paper))`. The foot of the pages stands where the page has
    it, once; page numbers are the file's alone. `demand_sound` holds the two beside each other.
    """
    return " ".join(_blocks(paper))


def drawn_from(paper: Paper) -> tuple[object, ...]:
    """Return all that the paper's file is drawn from: the same again gives the same bytes."""
    return lay_out_page(paper), title_of(paper), paper.wanted_at, paper.is_kept_for_years


def demand_sound(paper: Paper) -> pdf.Drawn:
    """The paper's file holds to PDF/UA-1, keeps on its pages, and says what its page says."""
    drawn = lay_out(paper)
    demand_accessible(drawn)
    demand_inside(drawn)
    demand_words(drawn, paper)
    return drawn


def demand_words(drawn: pdf.Drawn, paper: Paper) -> None:
    """Every line of the page is in the file, and every word of the file on the page.

    Only page numbers and the markers of lists are the file's own. For words from left to right.
    """
    words = re.sub(r"Page \d+ of \d+", " ", text(drawn))
    there, blocks = _unbroken(words), _blocks(paper)
    lost = [one for one in blocks if _unbroken(one) not in there]
    assert blocks and not lost, lost
    here = _unbroken(" ".join(blocks))
    added = [w for w in words.split() if _unbroken(w) not in here and not MARKER.fullmatch(w)]
    assert not added, added


def _unbroken(words: str) -> str:
    """Return the letters without hyphens: a file has one more wherever a word is parted."""
    return re.sub("[-\xad\u2010]", "", letters(words))


def draw_plainly(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let files hold blank pages, one to three: for who gets a file and what becomes of it.

    The same page gives the same file still, and another page another one.
    """

    def draw(html: str, **_: Any) -> pdf.Drawn:
        writer, count = PdfWriter(), 1 + len(html) % 3
        for _page in range(count):
            writer.add_blank_page(612, 792)
        writer.add_metadata({"/Subject": hashlib.sha256(html.encode()).hexdigest()})
        out = BytesIO()
        writer.write(out)
        return pdf.Drawn(out.getvalue(), count)

    monkeypatch.setattr(pdf, "draw", draw)


def letters(words: str) -> str:
    """Return the words without their blanks, as a line broken anywhere leaves them."""
    return "".join(words.split())


def demand_accessible(drawn: pdf.Drawn) -> None:
    """The file holds to PDF/UA-1."""
    _demand_profile(drawn, page.ValidationProfile.PDF_UA_1, more_rules_than=100)


def demand_lasting(drawn: pdf.Drawn) -> None:
    """The file holds to PDF/A-2a."""
    _demand_profile(drawn, page.ValidationProfile.PDF_A_2A, more_rules_than=140)


def _demand_profile(drawn: pdf.Drawn, profile: Any, *, more_rules_than: int) -> None:
    report = page.validate_pdf_bytes(drawn.data, profile=profile)
    assert report.rules.total > more_rules_than
    assert [(one.rule_id, one.message) for one in report.failures] == []
    assert report.rules.failed == 0


def demand_inside(drawn: pdf.Drawn) -> None:
    """Every word begins on its page."""
    for sheet in _read(drawn.data):
        for x, y in sheet.begins:
            assert 0 < x < sheet.width
            assert 0 < y < sheet.height


class _Sheet(NamedTuple):
    """A page of a file: its words, and where each begins."""

    words: str
    begins: list[tuple[float, float]]
    width: float
    height: float


@lru_cache(maxsize=1)  # Reading takes long, and a test asks more than once about the same file.
def _read(data: bytes) -> list[_Sheet]:
    return [_sheet(sheet) for sheet in PdfReader(BytesIO(data)).pages]


def _sheet(sheet: Any) -> _Sheet:
    begins = []

    def look(words: str, cm: Any, tm: Any, *_: Any) -> None:
        if words.strip():
            x = tm[4] * cm[0] + tm[5] * cm[2] + cm[4]
            y = tm[4] * cm[1] + tm[5] * cm[3] + cm[5]
            begins.append((x, y))

    words = sheet.extract_text(visitor_text=look)
    return _Sheet(words, begins, float(sheet.mediabox.width), float(sheet.mediabox.height))


def _blocks(paper: Paper) -> list[str]:
    page = _Page()
    page.feed(lay_out_page(paper))
    page.close()
    # Where a word may be parted nothing is seen unless it is.
    lines = (" ".join("".join(one).replace("\xad", "").split()) for one in page.blocks)
    return [line for line in lines if line]


class _Page(HTMLParser):
    """The words of a page by the blocks they stand in, as a file shows them.

    Titles and descriptions of pictures and the words in place of one are the file's tags, not its
    text.
    """

    INLINE = frozenset({"a", "b", "bdi", "bdo", "code", "em", "i", "small", "strong", "tspan"})
    UNSEEN = frozenset({"desc", "head", "script", "style", "template", "title"})
    EMPTY = frozenset({"br", "col", "hr", "img", "input", "link", "meta", "wbr"})

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.blocks: list[list[str]] = [[]]
        self._within = ""
        self._depth = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Begin a block, or what is not shown."""
        if tag in self.EMPTY:
            self._break(tag)
        elif self._within:
            self._depth += tag == self._within
        elif tag in self.UNSEEN or "hidden" in dict(attrs):
            self._within, self._depth = tag, 1
        else:
            self._break(tag)

    def handle_endtag(self, tag: str) -> None:
        """End a block, or what is not shown."""
        if self._within:
            self._depth -= tag == self._within
            self._within = self._within if self._depth else ""
        else:
            self._break(tag)

    def handle_data(self, data: str) -> None:
        """Keep words that are shown."""
        if not self._within:
            self.blocks[-1].append(data)

    def _break(self, tag: str) -> None:
        if tag not in self.INLINE:
            self.blocks.append([])
