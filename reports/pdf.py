"""HTML in, PDF out: the only file that knows WeasyPrint.

What it loads is our own styles and fonts by `asset:` addresses; any other address is
refused, whatever may stand in the HTML. The same input gives the same bytes.
"""

from __future__ import annotations

import hashlib
import mimetypes
import threading
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any

from django.contrib.staticfiles import finders
from fontTools.ttLib import woff2
from weasyprint import CSS, HTML
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import URLFetcher, URLFetcherResponse

from reports.rules.both_standards import leave_metadata_readable, marked

SCHEME = "asset:"
OUR_FOLDERS = ("show/", "reports/", "judging/drawings/")


@dataclass(frozen=True)
class Drawn:
    """A finished file."""

    data: bytes
    pages: int

    @property
    def content_hash(self) -> str:
        """SHA-256 of the file."""
        return hashlib.sha256(self.data).hexdigest()


class OwnAssets(URLFetcher):  # type: ignore[misc]
    """Loads static files of ours by `asset:` and a path in `OUR_FOLDERS`, nothing else."""

    def fetch(self, url: str, headers: Any = None) -> URLFetcherResponse:
        """Return the asset, or refuse."""
        path = _asset_path(url)
        if path.suffix == ".woff2":
            return URLFetcherResponse(url, _unpacked(path), {"Content-Type": "font/ttf"})
        kind = mimetypes.guess_type(path.name)[0] or "application/octet-stream"
        return URLFetcherResponse(url, path.read_bytes(), {"Content-Type": kind})


@cache
def _unpacked(path: Path) -> bytes:
    """Return a font as it is drawn with: unpacking all of them takes longer than a sheet."""
    font = BytesIO()
    woff2.decompress(BytesIO(path.read_bytes()), font)
    return font.getvalue()


class Styles(threading.local):
    """What one thread draws with, so that style sheets and fonts are read once and not for each."""

    def __init__(self) -> None:
        """Begin with the system's fonts."""
        self.fonts = FontConfiguration()
        self._read: dict[str, CSS] = {}

    def taken_from(self, page: HTML) -> list[CSS]:
        """Take the links to our style sheets out of a page; return what they say, in order."""
        found = []
        for link in page.etree_element.iter("link"):
            address = link.get("href", "")
            if link.get("rel") == "stylesheet" and address.startswith(SCHEME):
                del link.attrib["rel"]
                found.append(self._sheet(address))
        return found

    def _sheet(self, address: str) -> CSS:
        if address not in self._read:
            fetcher = OwnAssets()
            self._read[address] = CSS(url=address, url_fetcher=fetcher, font_config=self.fonts)
        return self._read[address]


STYLES = Styles()


def _asset_path(url: str) -> Path:
    name = url.removeprefix(SCHEME)
    if not url.startswith(SCHEME) or not name.startswith(OUR_FOLDERS) or ".." in name:
        raise ValueError(f"A paper loads its own assets only, not {url}")
    found = finders.find(name)
    if not isinstance(found, str):
        raise ValueError(f"There is no asset {name}")
    return Path(found)


def draw(html: str, *, title: str, lang: str, made_at: datetime, kept: bool = False) -> Drawn:
    """Lay the page out as accessible PDF (PDF/UA-1); `kept` for years, as PDF/A-2a besides.

    `made_at` is the paper's own time, not the clock's: it goes into the file.
    """
    return bind([html], title=title, lang=lang, made_at=made_at, kept=kept)


def bind(
    pages: Iterable[str], *, title: str, lang: str, made_at: datetime, kept: bool = False
) -> Drawn:
    """Lay several papers out one after the other in one accessible file, with bookmarks.

    Each keeps its own page numbers; its headings become the file's bookmarks.
    """
    variant = "pdf/a-2a" if kept else "pdf/ua-1"
    digest = hashlib.sha256()
    laid_out = []
    for html in pages:
        digest.update(html.encode())
        source = HTML(string=html, base_url=SCHEME, url_fetcher=OwnAssets())
        laid_out.append(
            source.render(
                stylesheets=STYLES.taken_from(source),
                font_config=STYLES.fonts,
                pdf_variant=variant,
            )
        )
    document = laid_out[0].copy([page for one in laid_out for page in one.pages])
    document.metadata.title = title
    document.metadata.lang = lang
    document.metadata.created = made_at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    if kept:
        document.metadata.generate_rdf_metadata = marked(document.metadata.generate_rdf_metadata)
    data = document.write_pdf(
        finisher=leave_metadata_readable if kept else None,
        pdf_variant=variant,
        pdf_identifier=digest.hexdigest()[:32].encode(),
    )
    return Drawn(data=data, pages=len(document.pages))
