"""Queries of exhibitors as the office reads and answers them."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from judging.actions.exhibitor_queries import answer_query
from judging.models import ExhibitorQuery
from judging.queries.queries_of import queries_of_show
from judging.rules.results.query_window import LONGEST_TEXT
from showrun.errors import Conflict, NotFound, ShowError
from showrun.language import gettext as _
from showrun.shows.models import Show
from showrun.shows.queries import demand, person_of, show_for
from showrun.shows.rules.access import Deed
from showrun.shows.web.office_form import OfficeForm


class AnswerForm(OfficeForm):
    """Whether the result stands, and what the exhibitor is told."""

    verdict = forms.ChoiceField(
        label=gettext_lazy("The result"),
        widget=forms.RadioSelect,
        choices=[
            ("stands", gettext_lazy("stands")),
            ("corrected", gettext_lazy("is corrected by a newer version")),
        ],
        error_messages={"required": gettext_lazy("Does the result stand, or is it corrected?")},
    )
    answer = forms.CharField(
        label=gettext_lazy("Answer"),
        help_text=gettext_lazy("The exhibitor reads it. It cannot be changed later."),
        max_length=LONGEST_TEXT,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": gettext_lazy("What do you answer? The exhibitor reads it.")},
    )

    def __init__(self, data: Any = None, *, query: ExhibitorQuery) -> None:
        super().__init__(data, prefix=f"query-{query.pk}")


def _page(
    request: HttpRequest, show: Show, *, refused: tuple[int, AnswerForm] | None = None
) -> HttpResponse:
    lines = []
    for line in queries_of_show(show):
        form = None
        if line.is_open:
            typed = refused and refused[0] == line.query.pk
            form = refused[1] if refused and typed else AnswerForm(query=line.query)
        lines.append((line, form))
    context = {
        "show": show,
        "here": "queries",
        "open": [pair for pair in lines if pair[0].is_open],
        "closed": [line for line, _ in lines if not line.is_open],
    }
    return render(request, "judging/queries.html", context, status=422 if refused else 200)


@never_cache
@require_safe
def queries(request: HttpRequest, slug: str) -> HttpResponse:
    """List what exhibitors asked, open ones first."""
    show = show_for(request.user, slug, Deed.SETTLE)
    return _page(request, show)


@require_POST
def answer(request: HttpRequest, query_id: int) -> HttpResponse:
    """Answer a query, once."""
    found = ExhibitorQuery.objects.select_related("entry__show").filter(pk=query_id).first()
    if found is None:
        raise NotFound()
    show = found.entry.show
    demand(request.user, Deed.SETTLE, show)
    form = AnswerForm(request.POST, query=found)
    if form.is_valid():
        try:
            answer_query(
                query=found, by=person_of(request.user), at=timezone.now(), **form.cleaned_data
            )
        except Conflict as fault:
            messages.error(request, fault.detail)
            return redirect("judging:queries", show.slug)
        except ShowError as fault:
            form.take(fault)
    if form.errors:
        return _page(request, show, refused=(found.pk, form))
    messages.success(
        request,
        _("Wagon {entry}: answered. The exhibitor reads it now.").format(entry=found.entry.called),
    )
    return redirect(f"{reverse('judging:queries', args=[show.slug])}#query-{found.pk}")
