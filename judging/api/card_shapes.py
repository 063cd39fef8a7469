"""Shapes of scorecards on the wire."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from judging.actions.declare_class import LARGEST_PURSE, LONGEST_QUERY, QUERY_MINUTES
from judging.models import ClassCard, Scorecard
from judging.models.scorecard import METHODS
from judging.rules.cards.policies import GearCredit, Marking, ModernItems, in_words
from judging.rules.cards.scorecard import NotInspected
from judging.rules.results.declared import MOST_PLACES
from showrun.shows.api.described import example


class ScorecardOut(serializers.Serializer):
    """One version of a show's card."""

    id = serializers.IntegerField()
    code = serializers.CharField(allow_blank=True)
    name = serializers.CharField()
    version = serializers.IntegerField()
    in_use = serializers.BooleanField()
    frozen_at = serializers.DateTimeField(allow_null=True)
    copied_from = serializers.IntegerField(source="copied_from_id", allow_null=True)
    made_at = serializers.DateTimeField(allow_null=True)
    sections = serializers.SerializerMethodField()
    rows = serializers.SerializerMethodField()

    def get_sections(self, card: Scorecard) -> int:
        return int(vars(card)["n_sections"])

    def get_rows(self, card: Scorecard) -> int:
        return int(vars(card)["n_rows"])


@example({"library": "food_dish"})
class CardFileIn(serializers.Serializer):
    """A card file; `schemas/scorecard` says what may stand in it."""

    library = serializers.SlugField(required=False, help_text="A library card, and nothing else.")
    code = serializers.SlugField(required=False)
    name = serializers.CharField(max_length=120, required=False)
    version = serializers.IntegerField(min_value=1, required=False)
    notice = serializers.CharField(max_length=1000, required=False)
    sections = serializers.ListField(child=serializers.DictField(), required=False)


class CardFileOut(serializers.Serializer):
    """A card file, fit to be brought in again."""

    code = serializers.SlugField(required=False)
    name = serializers.CharField(max_length=120)
    version = serializers.IntegerField(min_value=1)
    notice = serializers.CharField(required=False)
    sections = serializers.ListField(child=serializers.DictField())


@example({"reason": "Rows were added."})
class UseIn(serializers.Serializer):
    """Why the card changes; needed once judging has begun."""

    reason = serializers.CharField(max_length=300, allow_blank=True, default="")


def _policy(kind: Any, **more: Any) -> serializers.ChoiceField:
    return serializers.ChoiceField(choices=[member.value for member in kind], **more)


class PoliciesIn(serializers.Serializer):
    """What a class declares beside its points; what is left out stands at its default."""

    gear_credit = _policy(GearCredit, required=False)
    marking = _policy(Marking, required=False)
    modern_items = _policy(ModernItems, required=False)
    period_from = serializers.IntegerField(required=False, allow_null=True)
    period_to = serializers.IntegerField(required=False, allow_null=True)
    not_inspected = _policy(NotInspected, required=False)
    note = serializers.CharField(max_length=600, required=False, allow_blank=True)

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        """Return the words as the rules know them."""
        kinds = {
            "gear_credit": GearCredit,
            "marking": Marking,
            "modern_items": ModernItems,
            "not_inspected": NotInspected,
        }
        return {name: kinds[name](value) if name in kinds else value
                for name, value in given.items()}  # fmt: skip


@example(
    {
        "sections": ["harness"],
        "method": "plain",
        "judges_per_section": 3,
        "tie_ladder": ["harness"],
        "policies": {"marking": "build_from_middle", "note": "Gear of the trail."},
        "purse_cents": 50000,
        "purse_weights": ["3", "2"],
        "query_minutes": 60,
    }
)
class DeclareIn(serializers.Serializer):
    """How a class is judged."""

    sections = serializers.ListField(child=serializers.CharField(max_length=50), max_length=100)
    method = serializers.ChoiceField(choices=[name for name, _ in METHODS])
    judges_per_section = serializers.IntegerField(min_value=1, max_value=50)
    tie_ladder = serializers.ListField(
        child=serializers.CharField(max_length=50), max_length=100, required=False, default=list
    )
    announced_points = serializers.DecimalField(
        max_digits=8, decimal_places=2, min_value=0, required=False, allow_null=True, default=None
    )
    policies = PoliciesIn(required=False)
    purse_cents = serializers.IntegerField(min_value=0, max_value=LARGEST_PURSE, default=0)
    purse_weights = serializers.ListField(
        child=serializers.CharField(max_length=12), max_length=MOST_PLACES, default=list,
        help_text="Share of each place, the first place first.",
    )  # fmt: skip
    query_minutes = serializers.IntegerField(
        min_value=0, max_value=LONGEST_QUERY, default=QUERY_MINUTES,
        help_text="How long after the release an exhibitor may put a query.",
    )  # fmt: skip


class ClassCardOut(serializers.Serializer):
    """How a class is judged, with its policies in words."""

    show_class = serializers.CharField(source="show_class.code")
    sections = serializers.SerializerMethodField()
    method = serializers.CharField()
    judges_per_section = serializers.IntegerField()
    announced_points = serializers.DecimalField(max_digits=8, decimal_places=2, allow_null=True)
    tie_ladder = serializers.ListField(child=serializers.CharField())
    purse_cents = serializers.IntegerField()
    purse_weights = serializers.ListField(child=serializers.CharField())
    query_minutes = serializers.IntegerField()
    policies = serializers.SerializerMethodField()
    sentences = serializers.SerializerMethodField()

    def get_sections(self, card: ClassCard) -> list[str]:
        return [s.code for s in sorted(card.sections.all(), key=lambda s: s.position)]

    def get_policies(self, card: ClassCard) -> dict[str, Any]:
        return dict(vars(card.policies))

    def get_sentences(self, card: ClassCard) -> list[str]:
        return list(in_words(card.policies))


class JSONSchemaOut(serializers.Serializer):
    """A JSON Schema; of its keywords, those every reader looks for."""

    title = serializers.CharField()
    type = serializers.CharField()
    properties = serializers.DictField()
