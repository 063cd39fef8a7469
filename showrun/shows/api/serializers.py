"""Shapes of shows and people on the wire."""

from __future__ import annotations

from rest_framework import serializers

from showrun.shows.rules.access import Role


class ShowClassOut(serializers.Serializer):
    """A class of a show."""

    id = serializers.IntegerField()
    code = serializers.CharField()
    name = serializers.CharField()
    description = serializers.CharField()
    places_awarded = serializers.IntegerField()


class ShowOut(serializers.Serializer):
    """What anybody may know of a show."""

    slug = serializers.CharField()
    name = serializers.CharField()
    ground = serializers.CharField()
    starts_on = serializers.DateField()
    ends_on = serializers.DateField()
    zone = serializers.CharField()
    judging_starts_at = serializers.DateTimeField()
    judging_minutes = serializers.IntegerField()
    entry_cap = serializers.IntegerField()
    entry_fee_cents = serializers.IntegerField()
    classes = ShowClassOut(many=True)


class HeldRoleOut(serializers.Serializer):
    """A role in a show."""

    show = serializers.CharField(source="show.slug")
    role = serializers.ChoiceField(choices=[role.value for role in Role])


class MeOut(serializers.Serializer):
    """The person asking."""

    email = serializers.EmailField()
    name = serializers.CharField()
    roles = HeldRoleOut(many=True)
