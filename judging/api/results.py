"""Results: compute, accept gaps, sign, release; what is released for everybody."""

from __future__ import annotations

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response

from judging.actions.accept_gaps import accept_gaps
from judging.actions.compute_result import compute_result
from judging.actions.release_result import release_result, sign_result
from judging.actions.set_release_hour import release_due
from judging.api.result_shapes import AcceptGapsIn, ComputeIn, OfficeResultOut, ResultOut
from judging.queries.results import latest_result, released_results, result_for
from showrun.errors import NotFound
from showrun.language import gettext as _
from showrun.shows.api.body import read_body
from showrun.shows.api.described import refuses
from showrun.shows.api.once import once
from showrun.shows.api.view import View
from showrun.shows.queries import class_for, person_of, show_by_slug
from showrun.shows.rules.access import Deed


class ClassResult(View):
    """The newest result of a class, and computing it."""

    @extend_schema(responses=OfficeResultOut)
    @refuses("not-allowed")
    def get(self, request: Request, class_id: int) -> Response:
        result = latest_result(class_for(request.user, class_id, Deed.SEE_RESULTS))
        if result is None:
            raise NotFound(_("This class has no result yet."))
        return Response(OfficeResultOut(result).data)

    @extend_schema(request=ComputeIn, responses=OfficeResultOut)
    @refuses(
        "not-allowed",
        "not-yet",
        "incomplete",
        "judge-in-conflict",
        "method-refused",
        "panel-incomplete",
        "places-incomplete",
        "reason-needed",
        "rig-open",
    )
    @once
    def post(self, request: Request, class_id: int) -> Response:
        show_class = class_for(request.user, class_id, Deed.SEE_RESULTS)
        given = read_body(ComputeIn, request)
        result = compute_result(
            show_class=show_class,
            by=person_of(request.user),
            at=timezone.now(),
            reason=given["reason"],
            with_gaps=given["with_gaps"],
        )
        return Response(OfficeResultOut(result).data)


class AcceptGaps(View):
    """Accept in writing that a result is given without the cards it lacks."""

    @extend_schema(request=AcceptGapsIn, responses=OfficeResultOut)
    @refuses("not-allowed", "conflict", "reason-needed")
    @once
    def post(self, request: Request, result_id: int) -> Response:
        result = result_for(request.user, result_id, Deed.RELEASE_RESULT)
        given = read_body(AcceptGapsIn, request)
        done = accept_gaps(
            result=result,
            by=person_of(request.user),
            reason=given["reason"],
            at=timezone.now(),
        )
        return Response(OfficeResultOut(done).data)


class Sign(View):
    """Put a hand under a result."""

    @extend_schema(request=None, responses=OfficeResultOut)
    @refuses(
        "not-allowed",
        "conflict",
        "not-yet",
        "gaps-not-accepted",
        "marks-changed",
        "questions-open",
        "rig-open",
    )
    @once
    def post(self, request: Request, result_id: int) -> Response:
        result = result_for(request.user, result_id, Deed.SIGN_RESULT)
        return Response(
            OfficeResultOut(
                sign_result(result=result, by=person_of(request.user), at=timezone.now())
            ).data
        )


class Release(View):
    """Make a signed result public."""

    @extend_schema(request=None, responses=OfficeResultOut)
    @refuses(
        "not-allowed",
        "conflict",
        "not-yet",
        "gaps-not-accepted",
        "marks-changed",
        "rig-open",
        "signatures-missing",
    )
    @once
    def post(self, request: Request, result_id: int) -> Response:
        result = result_for(request.user, result_id, Deed.RELEASE_RESULT)
        return Response(
            OfficeResultOut(
                release_result(result=result, by=person_of(request.user), at=timezone.now())
            ).data
        )


class ShowResults(View):
    """The results released so far."""

    permission_classes = (AllowAny,)

    @extend_schema(responses=ResultOut(many=True))
    def get(self, request: Request, slug: str) -> Response:
        show = show_by_slug(slug)
        release_due(at=timezone.now(), show=show)
        return Response(ResultOut(released_results(show), many=True).data)
