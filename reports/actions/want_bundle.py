"""Ask for all papers in force in one file; a worker packs them."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from reports.actions.print_anew import print_anew
from reports.actions.redo_papers import want_again
from reports.models import BundlePart, Paper
from reports.models.paper import BUNDLES
from reports.queries.bundles import parts_of, to_bundle
from showrun.errors import InvalidInput, NotYet
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show


@transaction.atomic
def want_bundle(*, show: Show, kind: Paper.Kind, by: Person | None, at: datetime) -> Paper:
    """Want the papers in force as a ZIP (`BUNDLE`) or as one PDF (`BOOK`).

    A bundle is of finished papers only, and of all of them: none is left out in silence. Asked
    again for the same papers, it returns the bundle that is there; one that failed or was cancelled
    is packed again.
    """
    if kind not in BUNDLES:
        raise InvalidInput(_("A bundle or a book: choose one of them."))
    # Two who ask at once must not make two of the same.
    show = Show.objects.select_for_update().get(pk=show.pk)
    papers = to_bundle(show)
    if not papers:
        raise NotYet(_("There are no papers to put together yet."))
    if open_ones := [paper for paper in papers if paper.state != Paper.State.DONE]:
        raise NotYet(
            _(
                "{n} of {all} papers are not ready, the first: {paper} "
                "({state}). Wait for them, or draw them again first."
            ).format(
                n=len(open_ones),
                all=len(papers),
                paper=open_ones[0],
                state=open_ones[0].get_state_display(),
            )
        )
    before = Paper.objects.filter(show=show, kind=kind).order_by("-version").first()
    if before is not None and parts_of(before) == papers:
        given_up = [Paper.State.FAILED, Paper.State.CANCELLED]
        want_again(Paper.objects.filter(pk=before.pk, state__in=given_up))
        before.refresh_from_db()
        return before
    bundle = print_anew(show=show, kind=kind, by=by, at=at)
    BundlePart.objects.bulk_create(
        BundlePart(bundle=bundle, paper=paper, position=place)
        for place, paper in enumerate(papers, start=1)
    )
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="wanted",
        subject=str(bundle),
        after={"papers": len(papers), "printing": bundle.version},
    )
    return bundle
