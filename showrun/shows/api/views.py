"""Shows, and who is asking."""

from __future__ import annotations

from drf_spectacular.utils import extend_schema
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response

from showrun.shows.api.lists import PageAsked, page_of, read_asked
from showrun.shows.api.serializers import MeOut, ShowOut
from showrun.shows.api.view import View
from showrun.shows.models import Person, Show
from showrun.shows.queries import person_of, show_by_slug


class Me(View):
    """The person signed in, with their roles."""

    @extend_schema(responses=MeOut)
    def get(self, request: Request) -> Response:
        person = Person.objects.prefetch_related("roles__show").get(pk=person_of(request.user).pk)
        body = {"email": person.email, "name": person.name, "roles": person.roles.all()}
        return Response(MeOut(body).data)


class Shows(View):
    """All shows, newest first."""

    permission_classes = (AllowAny,)

    @extend_schema(parameters=[PageAsked], responses=ShowOut(many=True))
    def get(self, request: Request) -> Response:
        shows = Show.objects.prefetch_related("classes")
        page, headers = page_of(shows, request, read_asked(PageAsked, request))
        return Response(ShowOut(page, many=True).data, headers=headers)


class OneShow(View):
    """One show with its classes."""

    permission_classes = (AllowAny,)

    @extend_schema(responses=ShowOut)
    def get(self, request: Request, slug: str) -> Response:
        return Response(ShowOut(show_by_slug(slug)).data)
