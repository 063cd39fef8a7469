"""Shows, and who is asking."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.permissions import AllowAny
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from showrun.shows.api.lists import PageAsked, page_of, read_asked
from showrun.shows.api.serializers import MeOut, ShowOut
from showrun.shows.api.view import View
from showrun.shows.models import Person, Show
from showrun.shows.queries import person_of, show_by_slug

DESCRIPTION = Path(__file__).with_name("openapi.yaml")


class DescriptionRenderer(JSONRenderer):
    """The description as it is kept; a refusal stays JSON."""

    media_type = "application/vnd.oai.openapi"
    format = "yaml"

    def render(self, data: Any, *args: Any, **more: Any) -> bytes:
        return (
            data.encode() if isinstance(data, str) else bytes(super().render(data, *args, **more))
        )


class Description(View):
    """This description, as OpenAPI 3.1 in YAML."""

    permission_classes = (AllowAny,)
    renderer_classes = (DescriptionRenderer,)

    @extend_schema(operation_id="schema_retrieve", responses=OpenApiTypes.STR)
    def get(self, request: Request) -> Response:
        return Response(DESCRIPTION.read_text(encoding="utf-8"))


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
