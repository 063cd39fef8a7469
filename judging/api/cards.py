"""Scorecards for programs: bring them in, read them, put a version in use, declare a class."""

from __future__ import annotations

import hashlib
import json
from typing import Any

from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse, extend_schema
from rest_framework.permissions import AllowAny
from rest_framework.renderers import BaseRenderer, JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from judging.actions.adopt_scorecard import adopt_from_library, adopt_scorecard
from judging.actions.declare_class import declare_class
from judging.actions.version_scorecard import new_version, use_scorecard
from judging.api import card_shapes as shapes
from judging.models import Scorecard
from judging.queries.cards import card_data, card_of, card_version, demand_card, versions_of
from judging.rules.cards.card_file import SCHEMA
from judging.rules.cards.policies import Policies
from showrun.errors import InvalidInput, NotFound
from showrun.shows.api.body import read_body
from showrun.shows.models import Show, ShowClass
from showrun.shows.queries import demand, person_of, show_by_slug
from showrun.shows.rules.access import Deed

NOTHING_HERE = "There is nothing at this address for you."


def _show(request: Request, slug: str, deed: Deed) -> Show:
    show = show_by_slug(slug)
    demand(request.user, deed, show)
    return show


def _card(request: Request, card_id: int, deed: Deed) -> Scorecard:
    found = Scorecard.objects.select_related("show").filter(pk=card_id).first()
    if found is None:
        raise NotFound(NOTHING_HERE)
    demand(request.user, deed, found.show)
    card = card_version(found.show, card_id)
    card.show = found.show
    return card


def etag_of(data: dict[str, Any]) -> str:
    """Return a tag that changes whenever the card file does."""
    text = json.dumps(data, sort_keys=True, ensure_ascii=False)
    return f'"{hashlib.sha256(text.encode()).hexdigest()[:32]}"'


class Scorecards(APIView):
    """The versions of a show's cards."""

    @extend_schema(responses=shapes.ScorecardOut(many=True))
    def get(self, request: Request, slug: str) -> Response:
        show = _show(request, slug, Deed.SEE_OFFICE)
        return Response(shapes.ScorecardOut(versions_of(show), many=True).data)

    @extend_schema(
        request=shapes.CardFileIn,
        responses={201: shapes.ScorecardOut},
        description="Brings a card in: either the card file itself, as `GET scorecards/<id>` "
        'gives it and `schemas/scorecard` describes it, or `{"library": CODE}` for a card of '
        "the starter library. Faults are answered by their place in the file.",
    )
    def post(self, request: Request, slug: str) -> Response:
        show = _show(request, slug, Deed.RUN_CARDS)
        data = request.data
        if not isinstance(data, dict):
            raise InvalidInput("A card is a mapping with a name and sections.")
        by, at = person_of(request.user), timezone.now()
        if set(data) == {"library"}:
            card = adopt_from_library(show=show, code=str(data["library"]), by=by, at=at)
        else:
            card = adopt_scorecard(show=show, data=data, by=by, at=at)
        return Response(shapes.ScorecardOut(_counted(card)).data, status=201)


def _counted(card: Scorecard) -> Scorecard:
    """Return the card with its number of sections and rows, as in the list."""
    return next(one for one in versions_of(card.show) if one.pk == card.pk)


class OneScorecard(APIView):
    """One version of a card, as its file."""

    @extend_schema(
        parameters=[OpenApiParameter("If-None-Match", OpenApiTypes.STR, OpenApiParameter.HEADER)],
        responses={
            200: shapes.CardFileOut,
            304: OpenApiResponse(description="The card is the one you have."),
        },
    )
    def get(self, request: Request, card_id: int) -> Response:
        data = card_data(_card(request, card_id, Deed.SEE_OFFICE))
        headers = {"ETag": etag_of(data), "Cache-Control": "private, no-cache"}
        if headers["ETag"] in request.headers.get("If-None-Match", ""):
            return Response(status=304, headers=headers)
        return Response(data, headers=headers)


class Versions(APIView):
    """Copies of a card that may be edited."""

    @extend_schema(request=None, responses={201: shapes.ScorecardOut})
    def post(self, request: Request, card_id: int) -> Response:
        card = _card(request, card_id, Deed.RUN_CARDS)
        made = new_version(card=card, by=person_of(request.user), at=timezone.now())
        return Response(shapes.ScorecardOut(_counted(made)).data, status=201)


class Use(APIView):
    """Put a draft in use."""

    @extend_schema(request=shapes.UseIn, responses=shapes.ScorecardOut)
    def post(self, request: Request, card_id: int) -> Response:
        card = _card(request, card_id, Deed.RUN_CARDS)
        reason = read_body(shapes.UseIn, request)["reason"]
        used = use_scorecard(
            card=card, reason=reason, by=person_of(request.user), at=timezone.now()
        )
        return Response(shapes.ScorecardOut(_counted(used)).data)


class Declare(APIView):
    """Declare how a class is judged, before judging."""

    @extend_schema(request=shapes.DeclareIn, responses=shapes.ClassCardOut)
    def post(self, request: Request, class_id: int) -> Response:
        show_class = ShowClass.objects.select_related("show").filter(pk=class_id).first()
        if show_class is None:
            raise NotFound(NOTHING_HERE)
        demand(request.user, Deed.RUN_CARDS, show_class.show)
        given = read_body(shapes.DeclareIn, request)
        policies = Policies(**given.pop("policies", {}))
        card = declare_class(
            show_class=show_class,
            scorecard=card_of(show_class.show) or demand_card(show_class.show),
            policies=policies,
            by=person_of(request.user),
            at=timezone.now(),
            **given,
        )
        return Response(shapes.ClassCardOut(card).data)


class SchemaRenderer(JSONRenderer):
    """JSON under the media type of JSON Schema."""

    media_type = "application/schema+json"
    format = "schema"


class CardSchema(APIView):
    """What may stand in a card file, as JSON Schema 2020-12."""

    permission_classes = (AllowAny,)
    renderer_classes: tuple[type[BaseRenderer], ...] = (SchemaRenderer, JSONRenderer)

    @extend_schema(responses=shapes.JSONSchemaOut)
    def get(self, request: Request) -> Response:
        return Response(SCHEMA)
