"""The hour at which a signed result goes out, and what a correction changed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext_lazy
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from judging.actions.release_result import HANDS_NEEDED
from judging.actions.set_release_hour import cancel_release_hour, set_release_hour
from judging.models import Result
from judging.queries.corrections import Correction, corrections, marks_changed
from judging.queries.queries_of import section_names
from judging.queries.release_hours import StoppedRelease, stopped_releases
from judging.queries.results import result_for
from showrun.errors import ShowError
from showrun.language import gettext as _
from showrun.shows.models import Show
from showrun.shows.queries import person_of
from showrun.shows.rules.access import Deed
from showrun.shows.web.office_form import OfficeForm


class HourForm(OfficeForm):
    """A day and a time on the show's own clock."""

    due = forms.DateTimeField(
        label=gettext_lazy("Release at"),
        input_formats=["%Y-%m-%dT%H:%M"],
        error_messages={
            "required": gettext_lazy("On which day, and at what time?"),
            "invalid": gettext_lazy("A day and a time, please."),
        },
    )

    def __init__(self, data: Any, *, show: Show) -> None:
        super().__init__(data)
        self.show = show

    def clean_due(self) -> Any:
        """Put the time onto the show's clock; of an hour that comes twice, the first is meant."""
        return self.cleaned_data["due"].replace(tzinfo=self.show.tz)


@dataclass(frozen=True)
class ReleasePart:
    """What `release_part.html` shows below the newest version of a class."""

    result: Result
    may_set: bool
    stopped: StoppedRelease | None
    correction: Correction | None


def release_parts(
    show: Show, results: Iterable[Result], *, may_release: bool
) -> dict[int, ReleasePart]:
    """Return it for the newest results of a show, by result id."""
    newest = list(results)
    changed = corrections(newest, released=False)
    stopped = stopped_releases(show)
    parts = {}
    for result in newest:
        waits = result.released_at is None and result.release_due_at is None
        signed = len(result.signatures.all()) >= HANDS_NEEDED
        parts[result.pk] = ReleasePart(
            result=result,
            may_set=may_release and signed and result.released_at is None,
            stopped=stopped.get(result.show_class_id) if waits else None,
            correction=changed.get(result.pk),
        )
    return parts


@require_POST
def release_hour(request: HttpRequest, result_id: int) -> HttpResponse:
    """Set the hour of a signed result's release, or take it back."""
    result = result_for(request.user, result_id, Deed.RELEASE_RESULT)
    show, by, at = result.show_class.show, person_of(request.user), timezone.now()
    try:
        if request.POST.get("do") == "cancel":
            cancel_release_hour(result=result, by=by, at=at)
            messages.success(
                request, _("{result}: the hour of release is taken back.").format(result=result)
            )
        else:
            messages.success(request, _set(request, result))
    except ShowError as fault:
        messages.error(request, f"{result.show_class}: {fault.detail}")
    address = reverse("judging:office-results", args=[show.slug])
    return redirect(f"{address}#class-{result.show_class_id}")


def _set(request: HttpRequest, result: Result) -> str:
    show = result.show_class.show
    # The form reads a time without a zone; the show's is put onto it there.
    with timezone.override(timezone.get_fixed_timezone(0)):
        form = HourForm(request.POST, show=show)
        if not form.is_valid():
            sentence = " ".join(sentence for _field, sentence in form.fault_list)
            raise ShowError(sentence)
    done = set_release_hour(
        result=result,
        due=form.cleaned_data["due"],
        by=person_of(request.user),
        at=timezone.now(),
    )
    assert done.release_due_at
    due = done.release_due_at.astimezone(show.tz)
    return _("{done}: it goes out {day} at {time}, unless a mark changes before.").format(
        done=done, day=date_format(due, "l"), time=date_format(due, "g:i A T")
    )


@never_cache
@require_safe
def changes_page(request: HttpRequest, result_id: int) -> HttpResponse:
    """Show all that a correction changed, each mark included."""
    result = result_for(request.user, result_id, Deed.SEE_RESULTS)
    correction = corrections([result], released=False).get(result.pk)
    show = result.show_class.show
    if correction is None:
        messages.info(
            request,
            _("{result}: there is no former version to compare it with.").format(result=result),
        )
        return redirect("judging:office-results", show.slug)
    names = section_names(show)
    context = {
        "show": show,
        "here": "results",
        "correction": correction,
        "lines": [
            (
                line,
                [(names.get(code, code), *pair) for code, pair in line.change.sections.items()],
            )
            for line in correction.lines
        ],
        "marks": marks_changed(correction),
    }
    return render(request, "judging/result_changes.html", context)
