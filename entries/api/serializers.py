"""Shapes of entries on the wire. What an entry must say is ruled in `entries.rules`."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from entries.models import Entry
from entries.queries.crew import crew_shown
from entries.queries.entries import place_in_line
from entries.rules.eligibility import HISTORY_MAX, OUTFIT_MAX, WAGON_NAME_MAX
from entries.rules.particulars import DIETARY_MAX, EMERGENCY_NAME_MAX, EMERGENCY_PHONE_MAX
from entries.rules.places import Status
from showrun.language import gettext as _
from showrun.shows.api.described import example
from showrun.shows.api.lists import PageAsked
from showrun.shows.rules.planning import MOST_CLASSES

# A practice wagon is no entry of anybody's.
STATUSES = [status.value for status in Status if status is not Status.PRACTICE]


class CrewIn(serializers.Serializer):
    """One of the crew."""

    name = serializers.CharField(
        max_length=120, help_text="Initials are enough for somebody under age."
    )
    role = serializers.CharField(max_length=20)
    under_age = serializers.BooleanField(
        default=False, help_text="Never named outside the show office."
    )


class CrewOut(serializers.Serializer):
    """One of the crew; others than the owner and the office read initials of those under age."""

    name = serializers.CharField()
    role = serializers.CharField()


class RigIn(serializers.Serializer):
    """The rig, fact by fact; values are checked by the rules."""

    tongue = serializers.CharField(max_length=20)
    hitch = serializers.CharField(max_length=20)
    draft = serializers.CharField(max_length=20)
    pattern = serializers.CharField(max_length=20)
    holdback = serializers.CharField(max_length=20)


@example(
    {
        "wagon_name": "Tin Sparrow",
        "outfit": "Sparrow Outfit",
        "rig": {
            "tongue": "drop",
            "hitch": "team",
            "draft": "leather",
            "pattern": "civil",
            "holdback": "pole_strap",
        },
        "classes": ["trail"],
        "crew": [
            {"name": "Ada Moor", "role": "head_cook"},
            {"name": "B. O.", "role": "cook", "under_age": True},
        ],
        "frontage_ft": 50,
        "depth_ft": 40,
    }
)
class EntryIn(serializers.Serializer):
    """What an exhibitor sends to enter."""

    wagon_name = serializers.CharField(max_length=WAGON_NAME_MAX, allow_blank=True)
    outfit = serializers.CharField(max_length=OUTFIT_MAX, allow_blank=True, default="")
    history = serializers.CharField(max_length=HISTORY_MAX, allow_blank=True, default="")
    rig = RigIn()
    classes = serializers.ListField(
        child=serializers.CharField(max_length=50), max_length=MOST_CLASSES
    )
    crew = CrewIn(many=True)
    frontage_ft = serializers.IntegerField(
        allow_null=True, default=None, help_text="Of the camp, in feet."
    )
    depth_ft = serializers.IntegerField(
        allow_null=True, default=None, help_text="Of the camp, in feet."
    )
    dietary_notes = serializers.CharField(max_length=DIETARY_MAX, allow_blank=True, default="")
    emergency_name = serializers.CharField(
        max_length=120,
        allow_blank=True,
        default="",
        help_text="Whom to call; kept only where the show asks for it.",
    )
    emergency_phone = serializers.CharField(max_length=40, allow_blank=True, default="")
    waiver_version = serializers.IntegerField(
        allow_null=True,
        default=None,
        help_text="The version of the show's waiver that was read; needed with a name.",
    )
    waiver_agreed_by = serializers.CharField(
        max_length=120,
        allow_blank=True,
        default="",
        help_text="The name typed to agree; without it the entry lacks the agreement.",
    )

    def validate_crew(self, crew: list[Any]) -> list[Any]:
        if len(crew) > 50:
            raise serializers.ValidationError(_("That is more than a crew."))
        return crew


@example({"frontage_ft": 55, "dietary_notes": "No walnuts."})
class EntryChangeIn(serializers.Serializer):
    """What may be changed of an entry beside its rig and crew."""

    wagon_name = serializers.CharField(
        max_length=WAGON_NAME_MAX, allow_blank=True, required=False, help_text="Never empty."
    )
    outfit = serializers.CharField(max_length=OUTFIT_MAX, allow_blank=True, required=False)
    history = serializers.CharField(max_length=HISTORY_MAX, allow_blank=True, required=False)
    frontage_ft = serializers.IntegerField(
        allow_null=True, required=False, help_text="Of the camp, in feet."
    )
    depth_ft = serializers.IntegerField(
        allow_null=True, required=False, help_text="Of the camp, in feet."
    )
    dietary_notes = serializers.CharField(max_length=DIETARY_MAX, allow_blank=True, required=False)
    emergency_name = serializers.CharField(
        max_length=EMERGENCY_NAME_MAX,
        allow_blank=True,
        required=False,
        help_text="Whom to call; kept only where the show asks for it.",
    )
    emergency_phone = serializers.CharField(
        max_length=EMERGENCY_PHONE_MAX, allow_blank=True, required=False
    )


class EntriesAsked(PageAsked):
    """Which entries are wanted."""

    status = serializers.ChoiceField(choices=STATUSES, required=False, default=None)
    number = serializers.IntegerField(
        min_value=1, max_value=1_000_000, required=False, default=None
    )

    def get_fields(self) -> dict[str, Any]:
        """Add `class`, which Python keeps for itself."""
        code = serializers.CharField(
            max_length=50,
            required=False,
            default="",
            source="class_code",
            help_text="A class's code.",
        )
        return {"class": code, **super().get_fields()}


@example({"spot": 3})
class SpotIn(serializers.Serializer):
    """The camp spot wanted; any free one when it is left out."""

    spot = serializers.IntegerField(min_value=1, allow_null=True, default=None)


@example({"reason": "A broken axle."})
class ReasonIn(serializers.Serializer):
    """Why something is done."""

    reason = serializers.CharField(max_length=Entry.REASON_MAX, allow_blank=True, default="")


class EntryOut(serializers.Serializer):
    """An entry as its owner and the office see it; others read initials of those under age."""

    id = serializers.IntegerField()
    number = serializers.IntegerField(allow_null=True)
    wagon_name = serializers.CharField()
    outfit = serializers.CharField()
    status = serializers.CharField()
    status_reason = serializers.CharField()
    place_in_line = serializers.SerializerMethodField()
    rig = serializers.SerializerMethodField()
    classes = serializers.SerializerMethodField()
    crew = serializers.SerializerMethodField()
    spot = serializers.IntegerField(source="spot.number", default=None, allow_null=True)

    def get_place_in_line(self, entry: Entry) -> int | None:
        return place_in_line(entry)

    @extend_schema_field(CrewOut(many=True))
    def get_crew(self, entry: Entry) -> list[dict[str, str]]:
        in_full = bool(self.context.get("in_full", True))
        shown = crew_shown(entry, in_full=in_full)
        return [{"name": member.name, "role": member.role} for member in shown]

    def get_rig(self, entry: Entry) -> dict[str, str]:
        return entry.rig.facts()

    def get_classes(self, entry: Entry) -> list[str]:
        return [taken.show_class.code for taken in entry.classes.all()]


class OneEntryOut(EntryOut):
    """An entry with its camp, and with what only its owner and the office read; null for others."""

    history = serializers.CharField(allow_null=True, allow_blank=True)
    frontage_ft = serializers.IntegerField(allow_null=True, help_text="Of the camp, in feet.")
    depth_ft = serializers.IntegerField(allow_null=True, help_text="Of the camp, in feet.")
    dietary_notes = serializers.CharField(allow_null=True, allow_blank=True)
    emergency_name = serializers.CharField(allow_null=True, allow_blank=True)
    emergency_phone = serializers.CharField(allow_null=True, allow_blank=True)

    def to_representation(self, entry: Entry) -> dict[str, Any]:
        told = dict(super().to_representation(entry))
        if not self.context.get("particulars"):
            private = ("history", "dietary_notes", "emergency_name", "emergency_phone")
            told |= dict.fromkeys(private)
        return told
