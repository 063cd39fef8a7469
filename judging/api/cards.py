"""Scorecards for programs: bring them in, read them, put a version in use, declare a class."""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework.permissions import AllowAny
from rest_framework.renderers import BaseRenderer, JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from judging.actions.adopt_scorecard import adopt_from_library, adopt_scorecard
from judging.actions.declare_class import declare_class
from judging.actions.version_scorecard import new_version, use_scorecard
from judging.api import card_shapes as shapes
from judging.models import ClassCard, Scorecard
from judging.queries.cards import card_data, card_of, card_version, demand_card, versions_of
from judging.rules.cards.card_file import SCHEMA
from judging.rules.cards.policies import Policies
from showrun.errors import InvalidInput, NotFound
from showrun.language import gettext as _
from showrun.shows.api.body import read_body
from showrun.shows.api.described import refuses
from showrun.shows.api.lists import PageAsked, page_of, read_asked
from showrun.shows.api.once import once
from showrun.shows.api.view import View, as_it_was
from showrun.shows.models import ShowClass
from showrun.shows.queries import class_for, demand, person_of, show_for
from showrun.shows.rules.access import Deed


def _card(request: Request, card_id: int, deed: Deed) -> Scorecard:
    found = Scorecard.objects.select_related("show").filter(pk=card_id).first()
    if found is None:
        raise NotFound()
    demand(request.user, deed, found.show)
    card = card_version(found.show, card_id)
    card.show = found.show
    return card


def _declared(show_class: ShowClass) -> dict[str, Any]:
    card = ClassCard.objects.filter(show_class=show_class).prefetch_related("sections").first()
    if card is None:
        raise NotFound(_("It is not declared yet how this class is judged."))
    return dict(shapes.ClassCardOut(card).data)


class Scorecards(View):
    """The versions of a show's cards."""

    @extend_schema(parameters=[PageAsked], responses=shapes.ScorecardOut(many=True))
    @refuses("not-allowed")
    def get(self, request: Request, slug: str) -> Response:
        show = show_for(request.user, slug, Deed.SEE_OFFICE)
        page, headers = page_of(versions_of(show), request, read_asked(PageAsked, request))
        return Response(shapes.ScorecardOut(page, many=True).data, headers=headers)

    @extend_schema(
        request=shapes.CardFileIn,
        responses={201: shapes.ScorecardOut},
        description="Brings a card in: either the card file itself, as `GET scorecards/<id>` "
        'gives it and `schemas/scorecard` describes it, or `{"library": CODE}` for a card of '
        "the starter library. Faults are answered by their place in the file.",
    )
    @refuses("not-allowed")
    @once
    def post(self, request: Request, slug: str) -> Response:
        show = show_for(request.user, slug, Deed.RUN_CARDS)
        data = request.data
        if not isinstance(data, dict):
            raise InvalidInput(_("A card is a mapping with a name and sections."))
        by, at = person_of(request.user), timezone.now()
        if set(data) == {"library"}:
            card = adopt_from_library(show=show, code=str(data["library"]), by=by, at=at)
        else:
            card = adopt_scorecard(show=show, data=data, by=by, at=at)
        return Response(shapes.ScorecardOut(_counted(card)).data, status=201)


def _counted(card: Scorecard) -> Scorecard:
    """Return the card with its number of sections and rows, as in the list."""
    return next(one for one in versions_of(card.show) if one.pk == card.pk)


class OneScorecard(View):
    """One version of a card, as its file."""

    @extend_schema(responses=shapes.CardFileOut)
    @refuses("not-allowed")
    def get(self, request: Request, card_id: int) -> Response:
        return Response(card_data(_card(request, card_id, Deed.SEE_OFFICE)))


class Versions(View):
    """Copies of a card that may be edited."""

    @extend_schema(request=None, responses={201: shapes.ScorecardOut})
    @refuses("not-allowed")
    @once
    def post(self, request: Request, card_id: int) -> Response:
        card = _card(request, card_id, Deed.RUN_CARDS)
        made = new_version(card=card, by=person_of(request.user), at=timezone.now())
        return Response(shapes.ScorecardOut(_counted(made)).data, status=201)


class Use(View):
    """Put a draft in use."""

    @extend_schema(request=shapes.UseIn, responses=shapes.ScorecardOut)
    @refuses("not-allowed", "conflict", "reason-needed", if_match="may")
    @once
    def post(self, request: Request, card_id: int) -> Response:
        card = _card(request, card_id, Deed.RUN_CARDS)
        reason = read_body(shapes.UseIn, request)["reason"]
        with as_it_was(request, card.show, lambda: card_data(card)):
            used = use_scorecard(
                card=card, reason=reason, by=person_of(request.user), at=timezone.now()
            )
        return Response(shapes.ScorecardOut(_counted(used)).data)


class Declare(View):
    """How a class is judged: see it, or declare it before judging."""

    @extend_schema(responses=shapes.ClassCardOut)
    @refuses("not-allowed")
    def get(self, request: Request, class_id: int) -> Response:
        show_class = class_for(request.user, class_id, Deed.SEE_OFFICE)
        return Response(_declared(show_class))

    @extend_schema(request=shapes.DeclareIn, responses=shapes.ClassCardOut)
    @refuses("not-allowed", "conflict", "not-yet", if_match="may")
    @once
    def post(self, request: Request, class_id: int) -> Response:
        show_class = class_for(request.user, class_id, Deed.RUN_CARDS)
        given = read_body(shapes.DeclareIn, request)
        policies = Policies(**given.pop("policies", {}))
        with as_it_was(request, show_class.show, lambda: _declared(show_class)):
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


class CardSchema(View):
    """What may stand in a card file, as JSON Schema 2020-12."""

    permission_classes = (AllowAny,)
    renderer_classes: tuple[type[BaseRenderer], ...] = (SchemaRenderer, JSONRenderer)

    @extend_schema(responses=shapes.JSONSchemaOut)
    def get(self, request: Request) -> Response:
        return Response(SCHEMA)
