"""HTML in, PDF out: the only file that knows WeasyPrint.

What it loads is our own styles and fonts by `asset:` addresses; any other address is
refused, whatever may stand in the HTML. The same input gives the same bytes.
"""

from __future__ import annotations

import hashlib
import mimetypes
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.contrib.staticfiles import finders
from weasyprint import HTML
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import URLFetcher, URLFetcherResponse

SCHEME = "asset:"
OUR_FOLDERS = ("show/", "reports/")
mimetypes.add_type("font/woff2", ".woff2")


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
    """Loads static files of ours by `asset:show/...` and `asset:reports/...`, nothing else."""

    def fetch(self, url: str, headers: Any = None) -> URLFetcherResponse:
        """Return the asset, or refuse."""
        path = _asset_path(url)
        kind = mimetypes.guess_type(path.name)[0] or "application/octet-stream"
        return URLFetcherResponse(url, path.read_bytes(), {"Content-Type": kind})


def _asset_path(url: str) -> Path:
    name = url.removeprefix(SCHEME)
    if not url.startswith(SCHEME) or not name.startswith(OUR_FOLDERS) or ".." in name:
        raise ValueError(f"A paper loads its own assets only, not {url}")
    found = finders.find(name)
    if not isinstance(found, str):
        raise ValueError(f"There is no asset {name}")
    return Path(found)


def draw(html: str, *, title: str, lang: str, made_at: datetime) -> Drawn:
    """Lay the page out as accessible PDF (PDF/UA-1).

    `made_at` is the paper's own time, not the clock's: it goes into the file.
    """
    fonts = FontConfiguration()
    document = HTML(string=html, base_url=SCHEME, url_fetcher=OwnAssets()).render(
        font_config=fonts, pdf_variant="pdf/ua-1"
    )
    document.metadata.title = title
    document.metadata.lang = lang
    document.metadata.created = made_at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    identifier = hashlib.sha256(html.encode()).hexdigest()[:32].encode()
    data = document.write_pdf(pdf_variant="pdf/ua-1", pdf_identifier=identifier)
    return Drawn(data=data, pages=len(document.pages))
