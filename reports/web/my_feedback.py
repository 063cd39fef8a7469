"""An entry's feedback in one class as a page: the same as its sheet, for a phone."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from entries.queries.entries import entry_for
from judging.queries.results import released_placings
from reports.queries.papers import papers_for_entry
from reports.queries.sheets import feedback_of
from showrun.errors import Conflict, NotFound, NotReleased
from showrun.language import gettext as _
from showrun.shows.rules.access import Deed


@never_cache
@require_safe
def my_feedback(request: HttpRequest, entry_id: int, class_id: int) -> HttpResponse:
    """Show it to the exhibitor after release, and to the office."""
    entry = entry_for(request.user, entry_id, Deed.SEE_OWN_PAPERS)
    taken = entry.classes.select_related("show_class").filter(show_class=class_id).first()
    if taken is None:
        raise NotFound(_("This entry is not in such a class."))
    show_class = taken.show_class
    released = [p for p in released_placings(entry) if p.result.show_class_id == class_id]
    if not released:
        raise NotReleased(
            _(
                "The result of {show_class} is not released yet; the feedback will be here then."
            ).format(show_class=show_class.name)
        )
    try:
        content = feedback_of(released[0].result.show_class, entry, released[0].result)
    except Conflict as fault:
        # Marks were changed since: what is here would not come to the result it stands beside.
        raise Conflict(
            _(
                "The marks behind this result were changed after it was made. The feedback stands "
                "here again when the office has released a new version."
            ),
            code="marks-changed",
        ) from fault
    context = {
        **content,
        "own": entry.exhibitor_id == request.user.pk,
        "papers": [one for one in papers_for_entry(entry) if one.show_class_id == class_id],
    }
    return render(request, "reports/feedback.html", context)
