"""Food rounds for programs: tables by code, and the key once it is open."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from judging.models import FoodRound
from judging.queries.food import key_of, rounds_of, tables_of
from judging.rules.panels.tables import efficiency
from showrun.shows.api.described import refuses
from showrun.shows.api.view import View
from showrun.shows.queries import show_for
from showrun.shows.rules.access import Deed


class FoodTableOut(serializers.Serializer):
    """What one judge tastes, the first code first."""

    judge = serializers.CharField(help_text="The judge's short name.")
    codes = serializers.ListField(child=serializers.CharField())


class FoodKeyOut(serializers.Serializer):
    """Which wagon a code stands for."""

    code = serializers.CharField()
    number = serializers.IntegerField()
    came_at = serializers.DateTimeField(allow_null=True)
    standing = serializers.CharField(allow_blank=True)


class FoodRoundOut(serializers.Serializer):
    """A food round. `key` is null until the key holder has opened it."""

    id = serializers.IntegerField()
    show_class = serializers.CharField()
    dish = serializers.CharField()
    posted_at = serializers.DateTimeField()
    window_minutes = serializers.IntegerField()
    grace_minutes = serializers.IntegerField()
    late = serializers.CharField()
    palate_limit = serializers.IntegerField()
    drawn_at = serializers.DateTimeField(allow_null=True)
    marks_closed_at = serializers.DateTimeField(allow_null=True)
    revealed_at = serializers.DateTimeField(allow_null=True)
    efficiency = serializers.FloatField(allow_null=True)
    tables = FoodTableOut(many=True)
    key = FoodKeyOut(many=True, allow_null=True)


class FoodRounds(View):
    """The food rounds of a show with their tables."""

    @extend_schema(responses=FoodRoundOut(many=True))
    @refuses("not-allowed")
    def get(self, request: Request, slug: str) -> Response:
        show = show_for(request.user, slug, Deed.SEE_OFFICE)
        return Response(FoodRoundOut([_shape(one) for one in rounds_of(show)], many=True).data)


def _shape(food: FoodRound) -> dict[str, Any]:
    tables = [{"judge": t.judge.code, "codes": list(t.codes)} for t in tables_of(food)]
    key = key_of(food) if food.revealed_at else None
    return {
        "id": food.pk,
        "show_class": food.show_class.code,
        "dish": food.dish,
        "posted_at": food.posted_at,
        "window_minutes": food.window_minutes,
        "grace_minutes": food.grace_minutes,
        "late": food.late,
        "palate_limit": food.palate_limit,
        "drawn_at": food.drawn_at,
        "marks_closed_at": food.marks_closed_at,
        "revealed_at": food.revealed_at,
        "efficiency": efficiency(t["codes"] for t in tables) if tables else None,
        "tables": tables,
        "key": key
        and [
            {
                "code": dish.code,
                "number": dish.entry.number,
                "came_at": dish.came_at,
                "standing": dish.standing,
            }
            for dish in key
        ],
    }
