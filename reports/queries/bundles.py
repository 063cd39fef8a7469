"""What goes into a bundle of the show's papers."""

from __future__ import annotations

from collections.abc import Sequence

from reports.models import BundlePart, Paper
from reports.models.paper import BUNDLES
from reports.queries.contents import title_of
from reports.queries.papers import current_papers
from reports.rules.bundle import Packed
from showrun.shows.models import Show


def to_bundle(show: Show) -> list[Paper]:
    """Return the papers in force that a bundle holds, in the office's order."""
    papers = current_papers(show).exclude(kind__in=BUNDLES)
    return list(papers.order_by("show_class__position", "kind", "entry__number", "judge", "pk"))


def parts_of(bundle: Paper) -> list[Paper]:
    """Return the papers the bundle was wanted of, in its order."""
    parts = BundlePart.objects.filter(bundle=bundle).select_related(
        "paper__show", "paper__show_class", "paper__entry", "paper__result", "paper__judge"
    )
    return [part.paper for part in parts]


def packed_of(papers: Sequence[Paper]) -> list[Packed]:
    """Return what a bundle's index says of its papers."""
    return [
        Packed(
            name=paper.download_name,
            title=title_of(paper),
            pages=paper.pages or 0,
            version=paper.version,
            code=paper.code_printed,
            sha256=paper.content_hash,
        )
        for paper in papers
    ]


def bundles_of(show: Show) -> list[Paper]:
    """Return the newest printing of each kind of bundle."""
    newest = {}
    for paper in Paper.objects.filter(show=show, kind__in=BUNDLES).order_by("version"):
        newest[paper.kind] = paper
    return [newest[kind] for kind in BUNDLES if kind in newest]
