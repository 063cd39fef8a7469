"""Shapes of results on the wire: what everybody reads, and what the office reads beside it."""

from __future__ import annotations

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from judging.models import Result
from judging.queries.gaps import public_gaps
from showrun.shows.api.described import example


@example({"reason": "A card came late.", "with_gaps": False})
class ComputeIn(serializers.Serializer):
    """Why a released result is computed again; empty the first time."""

    reason = serializers.CharField(max_length=300, allow_blank=True, default="")
    with_gaps = serializers.BooleanField(default=False)  # although cards are missing


@example({"reason": "The judge fell ill."})
class AcceptGapsIn(serializers.Serializer):
    """Why the missing cards stay missing; everybody may read it."""

    reason = serializers.CharField(max_length=300)


class PlacingOut(serializers.Serializer):
    """One entry's line in a result."""

    place = serializers.IntegerField()
    entry = serializers.IntegerField(source="entry.number")
    wagon_name = serializers.CharField(source="entry.wagon_name")
    total = serializers.DecimalField(max_digits=8, decimal_places=2)
    decided_by = serializers.CharField()
    by_section = serializers.DictField(child=serializers.CharField())
    purse_cents = serializers.IntegerField()


class PublicGapOut(serializers.Serializer):
    """Cards of one section of one entry that a result lacks."""

    entry = serializers.IntegerField()
    section = serializers.CharField()
    cards = serializers.IntegerField()


class ResultOut(serializers.Serializer):
    """A released result as anybody sees it."""

    id = serializers.IntegerField()
    show_class = serializers.CharField(source="show_class.code")
    version = serializers.IntegerField()
    method = serializers.CharField()
    possible_points = serializers.DecimalField(max_digits=8, decimal_places=2)
    released_at = serializers.DateTimeField(allow_null=True)
    result_hash = serializers.CharField()
    missing_cards = serializers.SerializerMethodField()
    missing_cards_reason = serializers.CharField(source="gaps_reason")
    placings = PlacingOut(many=True)

    @extend_schema_field(PublicGapOut(many=True))
    def get_missing_cards(self, result: Result) -> list[dict[str, object]]:
        return [dict(line) for line in PublicGapOut(public_gaps(result), many=True).data]


class ByMethodOut(serializers.Serializer):
    """An entry's total and place by one method."""

    total = serializers.CharField()
    place = serializers.IntegerField()
    decided_by = serializers.CharField(allow_blank=True)


class OfficePlacingOut(PlacingOut):
    """A line with every method side by side, and how sure its place is."""

    plain_total = serializers.DecimalField(max_digits=8, decimal_places=2, allow_null=True)
    plain_place = serializers.IntegerField(allow_null=True)
    adjusted_total = serializers.DecimalField(max_digits=8, decimal_places=2, allow_null=True)
    adjusted_place = serializers.IntegerField(allow_null=True)
    by_method = serializers.DictField(child=ByMethodOut())
    rank_low = serializers.IntegerField(allow_null=True)
    rank_high = serializers.IntegerField(allow_null=True)
    best_place = serializers.IntegerField(allow_null=True)
    worst_place = serializers.IntegerField(allow_null=True)


class GapOut(serializers.Serializer):
    """A judge's card of one section that a result lacks."""

    entry = serializers.IntegerField()
    judge = serializers.CharField()
    section = serializers.CharField()
    rows = serializers.IntegerField()
    handed_in = serializers.BooleanField()


class OfficeResultOut(ResultOut):
    """A result as the office sees it before and after release."""

    inputs_hash = serializers.CharField()
    rule_version = serializers.CharField()
    judge_effects = serializers.DictField()
    refusals = serializers.DictField()
    uncertainty = serializers.DictField()
    gaps = GapOut(many=True)
    gaps_accepted_by = serializers.CharField(
        source="gaps_accepted_by.name", default=None, allow_null=True
    )
    gaps_accepted_at = serializers.DateTimeField(allow_null=True)
    release_due_at = serializers.DateTimeField(allow_null=True)
    signatures = serializers.SerializerMethodField()
    placings = OfficePlacingOut(many=True)

    def get_signatures(self, result: Result) -> list[str]:
        return [hand.person.name for hand in result.signatures.all()]
