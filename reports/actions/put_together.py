"""Put the papers of a bundle into one file: a ZIP of the files, or one PDF of all pages."""

from __future__ import annotations

import hashlib
import io
import zipfile
from typing import TYPE_CHECKING

from reports.actions.lay_out_page import lay_out_page
from reports.actions.zip_member import zip_member
from reports.models import Paper
from reports.queries.bundles import packed_of, parts_of
from reports.queries.contents import title_of
from reports.rules.bundle import CHECKSUMS, INDEX, checksums_of, index_of, member_names
from showrun.errors import Conflict
from showrun.language import gettext as _

if TYPE_CHECKING:
    from reports import pdf


def put_together(bundle: Paper) -> pdf.Drawn:
    """Make the bundle's file; the same papers give the same bytes.

    Raises `Conflict` where a paper's file is not the one that was drawn.
    """
    # Only who draws loads the layout engine: half a second that web and commands never need.
    from reports import pdf  # noqa: PLC0415

    papers = parts_of(bundle)
    if bundle.kind == Paper.Kind.BOOK:
        return pdf.bind(
            (lay_out_page(paper) for paper in papers),
            title=title_of(bundle),
            lang="en",
            made_at=bundle.wanted_at,
        )
    return pdf.Drawn(_packed(papers), pages=sum(paper.pages or 0 for paper in papers))


def _packed(papers: list[Paper]) -> bytes:
    packed = packed_of(papers)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, text in ((INDEX, index_of(packed)), (CHECKSUMS, checksums_of(packed))):
            archive.writestr(zip_member(name), text.encode())
        for name, paper in zip(member_names(packed), papers, strict=True):
            archive.writestr(zip_member(name), _file_of(paper))
    return out.getvalue()


def _file_of(paper: Paper) -> bytes:
    with paper.file.open("rb") as file:
        data: bytes = file.read()
    if hashlib.sha256(data).hexdigest() != paper.content_hash:
        raise Conflict(
            _("The file of {paper} is not the one that was drawn; draw it again first.").format(
                paper=paper
            )
        )
    return data
