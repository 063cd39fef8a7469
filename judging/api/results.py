"""Results: compute, sign, release for the office; what is released for everybody."""

from __future__ import annotations

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from judging.actions.publish_result import compute_result, release_result, sign_result
from judging.api.serializers import ComputeIn, OfficeResultOut, ResultOut
from judging.models import Result
from judging.queries.results import latest_result, released_results
from showrun.errors import NotFound
from showrun.shows.api.body import read_body
from showrun.shows.models import ShowClass
from showrun.shows.queries import demand, person_of, show_by_slug
from showrun.shows.rules.access import Deed


def _class(request: Request, class_id: int) -> ShowClass:
    show_class = ShowClass.objects.select_related("show").filter(pk=class_id).first()
    if show_class is None:
        raise NotFound("There is nothing at this address for you.")
    demand(request.user, Deed.SEE_RESULTS, show_class.show)
    return show_class


def _result(request: Request, result_id: int, deed: Deed) -> Result:
    results = Result.objects.select_related("show_class__show")
    result = results.filter(pk=result_id).first()
    if result is None:
        raise NotFound("There is nothing at this address for you.")
    demand(request.user, deed, result.show_class.show)
    return result


class ClassResult(APIView):
    """The newest result of a class, and computing it."""

    @extend_schema(responses=OfficeResultOut)
    def get(self, request: Request, class_id: int) -> Response:
        result = latest_result(_class(request, class_id))
        if result is None:
            raise NotFound("This class has no result yet.")
        return Response(OfficeResultOut(result).data)

    @extend_schema(request=ComputeIn, responses=OfficeResultOut)
    def post(self, request: Request, class_id: int) -> Response:
        show_class = _class(request, class_id)
        given = read_body(ComputeIn, request)
        result = compute_result(
            show_class=show_class,
            by=person_of(request.user),
            at=timezone.now(),
            reason=given["reason"],
        )
        return Response(OfficeResultOut(result).data)


class Sign(APIView):
    """Put a hand under a result."""

    @extend_schema(request=None, responses=OfficeResultOut)
    def post(self, request: Request, result_id: int) -> Response:
        result = _result(request, result_id, Deed.SIGN_RESULT)
        return Response(
            OfficeResultOut(
                sign_result(result=result, by=person_of(request.user), at=timezone.now())
            ).data
        )


class Release(APIView):
    """Make a signed result public."""

    @extend_schema(request=None, responses=OfficeResultOut)
    def post(self, request: Request, result_id: int) -> Response:
        result = _result(request, result_id, Deed.RELEASE_RESULT)
        return Response(
            OfficeResultOut(
                release_result(result=result, by=person_of(request.user), at=timezone.now())
            ).data
        )


class ShowResults(APIView):
    """The results released so far."""

    permission_classes = (AllowAny,)

    @extend_schema(responses=ResultOut(many=True))
    def get(self, request: Request, slug: str) -> Response:
        return Response(ResultOut(released_results(show_by_slug(slug)), many=True).data)
