"""Shapes of entries on the wire. What an entry must say is ruled in `entries.rules`."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from entries.models import Entry
from entries.queries import place_in_line


class CrewIn(serializers.Serializer):
    """One of the crew."""

    name = serializers.CharField(max_length=120)
    role = serializers.CharField(max_length=20)


class RigIn(serializers.Serializer):
    """The rig, fact by fact; values are checked by the rules."""

    tongue = serializers.CharField(max_length=20)
    hitch = serializers.CharField(max_length=20)
    draft = serializers.CharField(max_length=20)
    pattern = serializers.CharField(max_length=20)
    holdback = serializers.CharField(max_length=20)


class EntryIn(serializers.Serializer):
    """What an exhibitor sends to enter."""

    wagon_name = serializers.CharField(max_length=80, allow_blank=True)
    outfit = serializers.CharField(max_length=80, allow_blank=True, default="")
    history = serializers.CharField(max_length=2000, allow_blank=True, default="")
    rig = RigIn()
    classes = serializers.ListField(child=serializers.CharField(max_length=50), max_length=20)
    crew = CrewIn(many=True)

    def validate_crew(self, crew: list[Any]) -> list[Any]:
        if len(crew) > 50:
            raise serializers.ValidationError("That is more than a crew.")
        return crew


class SpotIn(serializers.Serializer):
    """The camp spot wanted; any free one when it is left out."""

    spot = serializers.IntegerField(min_value=1, allow_null=True, default=None)


class ReasonIn(serializers.Serializer):
    """Why something is done."""

    reason = serializers.CharField(max_length=200, allow_blank=True, default="")


class EntryOut(serializers.Serializer):
    """An entry as its owner and the office see it."""

    id = serializers.IntegerField()
    number = serializers.IntegerField(allow_null=True)
    wagon_name = serializers.CharField()
    outfit = serializers.CharField()
    status = serializers.CharField()
    status_reason = serializers.CharField()
    place_in_line = serializers.SerializerMethodField()
    rig = serializers.SerializerMethodField()
    classes = serializers.SerializerMethodField()
    crew = CrewIn(many=True)
    spot = serializers.IntegerField(source="spot.number", default=None, allow_null=True)

    def get_place_in_line(self, entry: Entry) -> int | None:
        return place_in_line(entry)

    def get_rig(self, entry: Entry) -> dict[str, str]:
        return entry.rig.facts()

    def get_classes(self, entry: Entry) -> list[str]:
        return [taken.show_class.code for taken in entry.classes.all()]
