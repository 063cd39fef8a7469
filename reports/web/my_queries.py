"""What an exhibitor asks about their own result, on the page of the entry."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as lazy

from entries.models import Entry
from judging.actions.exhibitor_queries import ask_query, withdraw_query
from judging.models import ExhibitorQuery, Placing
from judging.queries.queries_of import QueriesOfClass, queries_of_entry
from judging.rules.results.query_window import LONGEST_TEXT
from showrun.errors import Conflict, NotFound, NotYet, ShowError
from showrun.language import gettext as _
from showrun.shows.queries import person_of
from showrun.shows.web.number_sent import number_sent
from showrun.shows.web.office_form import OfficeForm


class QueryForm(OfficeForm):
    """One query about one class."""

    section = forms.ChoiceField(
        label=lazy("Section"),
        required=False,
        error_messages={"invalid_choice": lazy("Choose a section, or none.")},
    )
    text = forms.CharField(
        label=lazy("Your query"),
        help_text=format_lazy(
            lazy("What you ask, and why: at most {most} letters."), most=LONGEST_TEXT
        ),
        max_length=LONGEST_TEXT,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": lazy("What do you ask?")},
    )

    def __init__(self, data: Any = None, *, of_class: QueriesOfClass) -> None:
        super().__init__(data, prefix=f"query-{of_class.result.show_class_id}")
        section = self.fields["section"]
        assert isinstance(section, forms.ChoiceField)
        section.choices = [("", _("no one section")), *of_class.sections]


@dataclass(frozen=True)
class MyQueries:
    """What was asked about a class, and the form while more may be asked."""

    of_class: QueriesOfClass
    form: QueryForm | None


def my_queries(
    entry: Entry, placings: list[Placing], *, at: datetime, refused: QueryForm | None = None
) -> dict[int, MyQueries]:
    """Return it by class id, for the released classes of an entry."""
    found = {}
    for class_id, of_class in queries_of_entry(entry, placings, at=at).items():
        form = None if of_class.against else QueryForm(of_class=of_class)
        if refused and form and refused.prefix == form.prefix:
            form = refused
        found[class_id] = MyQueries(of_class, form)
    return found


def take_query(
    request: HttpRequest, entry: Entry, placings: list[Placing], *, at: datetime
) -> QueryForm | None:
    """Put or withdraw a query; return the form where it was refused. Says the rest by messages."""
    given = request.POST.get("class", "")
    by = person_of(request.user)
    if request.POST.get("do") == "withdraw":
        query = _own(entry, request.POST.get("query", ""))
        try:
            withdraw_query(query=query, by=by, at=at)
        except Conflict as fault:
            messages.error(request, fault.detail)
        else:
            messages.success(request, _("Your query is withdrawn."))
        return None
    of_class = queries_of_entry(entry, placings, at=at).get(number_sent(given))
    if of_class is None:
        raise NotFound(_("There is no released result of that class."))
    form = QueryForm(request.POST, of_class=of_class)
    if form.is_valid():
        try:
            ask_query(result=of_class.result, entry=entry, by=by, at=at, **form.cleaned_data)
        except (Conflict, NotYet) as fault:
            messages.error(request, fault.detail)
            return None
        except ShowError as fault:
            form.take(fault)
        else:
            messages.success(
                request, _("Your query is with the office. The answer will stand here.")
            )
            return None
    return form


def _own(entry: Entry, given: str) -> ExhibitorQuery:
    query = ExhibitorQuery.objects.filter(entry=entry, pk=number_sent(given)).first()
    if query is None:
        raise NotFound(_("There is no such query of this entry."))
    return query
