"""A paper as the page it is drawn from."""

from __future__ import annotations

from django.conf import settings
from django.template.loader import render_to_string
from django.urls import reverse

from reports.models import Paper
from reports.queries.contents import content_of, title_of


def lay_out_page(paper: Paper) -> str:
    """Return the paper's HTML; what it says depends on the paper's rows alone."""
    return render_to_string(
        f"reports/pdf/{paper.kind}.html",
        {
            **content_of(paper),
            "title": title_of(paper),
            "page_size": settings.PAPER_SIZE,
            "check_address": _check_address(paper),
        },
    )


def _check_address(paper: Paper) -> str:
    site = str(settings.PUBLIC_URL).rstrip("/")
    return site + reverse("reports:paper-check", args=[paper.code_printed])
