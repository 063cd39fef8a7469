"""The doors of the office's results: compute, accept what is missing, two hands, release."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from judging.actions.accept_gaps import accept_gaps
from judging.actions.compute_result import compute_result
from judging.actions.release_result import HANDS_NEEDED, release_result, sign_result
from judging.actions.set_release_hour import release_due
from judging.models import Result
from judging.queries.results import latest_result, open_questions, result_for
from judging.web.results_view import NOTHING_TYPED, Typed, page_context
from showrun.errors import Conflict, InvalidInput, NotYet
from showrun.language import gettext as _
from showrun.language import ngettext
from showrun.shows.models import Show, ShowClass
from showrun.shows.queries import class_for, person_of, roles_of, show_for
from showrun.shows.rules.access import Deed


def _page(
    request: HttpRequest, show: Show, *, typed: Typed = NOTHING_TYPED, status: int = 200
) -> HttpResponse:
    person = person_of(request.user)
    context = page_context(show, person, roles_of(person, show), typed)
    return render(request, "judging/office_results.html", context, status=status)


@never_cache
@require_safe
def office_results(request: HttpRequest, slug: str) -> HttpResponse:
    """Show every class: what it waits for, its totals by every method, its signatures."""
    show = show_for(request.user, slug, Deed.SEE_RESULTS)
    release_due(at=timezone.now(), show=show)
    return _page(request, show)


def _back(show_class: ShowClass) -> HttpResponse:
    address = reverse("judging:office-results", args=[show_class.show.slug])
    return redirect(f"{address}#class-{show_class.pk}")


@require_POST
def compute(request: HttpRequest, class_id: int) -> HttpResponse:
    """Compute a class's result, or the next version of it with its reason."""
    show_class = class_for(request.user, class_id, Deed.SIGN_RESULT)
    before = latest_result(show_class)
    reason = request.POST.get("reason", "")
    try:
        result = compute_result(
            show_class=show_class,
            by=person_of(request.user),
            at=timezone.now(),
            reason=reason,
            with_gaps=bool(request.POST.get("with_gaps")),
        )
    except InvalidInput as fault:
        typed = Typed("correct", show_class.pk, reason, fault.fields)
        return _page(request, show_class.show, typed=typed, status=fault.status)
    except (NotYet, Conflict) as fault:
        messages.error(request, fault.detail)
        return _back(show_class)
    if before is not None and before.pk == result.pk:
        messages.info(
            request,
            _("{name}: no mark has changed, so version {version} stands.").format(
                name=show_class.name, version=result.version
            ),
        )
    else:
        messages.success(
            request,
            _("{show_class}: version {version} computed.").format(
                show_class=show_class.name, version=result.version
            ),
        )
    waiting = open_questions(show_class)
    if waiting:
        messages.warning(
            request,
            ngettext(
                "{n} question waits for a judge before signing.",
                "{n} questions wait for a judge before signing.",
                waiting,
            ).format(n=waiting),
        )
    return _back(show_class)


def _tried(request: HttpRequest, result: Result, deed: Callable[[], str]) -> HttpResponse:
    """Do it and say so, or say why not; then back to the class."""
    try:
        messages.success(request, deed())
    except (NotYet, Conflict) as fault:
        messages.error(request, f"{result.show_class.name}: {fault.detail}")
    return _back(result.show_class)


@require_POST
def accept(request: HttpRequest, result_id: int) -> HttpResponse:
    """Accept in writing that a result is given without the cards it lacks."""
    result = result_for(request.user, result_id, Deed.RELEASE_RESULT)
    by, reason = person_of(request.user), request.POST.get("reason", "")

    def accepted() -> str:
        done = accept_gaps(result=result, by=by, reason=reason, at=timezone.now())
        return _("{done}: accepted without the missing cards. It can be signed.").format(done=done)

    try:
        return _tried(request, result, accepted)
    except InvalidInput as fault:
        typed = Typed("accept", result.show_class_id, reason, fault.fields)
        return _page(request, result.show_class.show, typed=typed, status=fault.status)


@require_POST
def sign(request: HttpRequest, result_id: int) -> HttpResponse:
    """Put one's hand under a result."""
    result = result_for(request.user, result_id, Deed.SIGN_RESULT)
    by = person_of(request.user)

    def signed() -> str:
        done = sign_result(result=result, by=by, at=timezone.now())
        lacking = HANDS_NEEDED - done.signatures.count()
        then = _("It can be released.") if lacking <= 0 else _("Another person signs next.")
        return _("{done}: signed. {then}").format(done=done, then=then)

    return _tried(request, result, signed)


@require_POST
def release(request: HttpRequest, result_id: int) -> HttpResponse:
    """Make a signed result public."""
    result = result_for(request.user, result_id, Deed.RELEASE_RESULT)
    by = person_of(request.user)

    def released() -> str:
        done = release_result(result=result, by=by, at=timezone.now())
        return _("{done}: released. Everybody may read it now.").format(done=done)

    return _tried(request, result, released)
