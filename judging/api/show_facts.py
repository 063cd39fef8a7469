"""What a show says of itself, its classes, and who is in which, for programs."""

from __future__ import annotations

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from judging.actions.change_show import (
    LONGEST_DESCRIPTION,
    LONGEST_GROUND,
    LONGEST_NAME,
    MOST_PLACES,
    add_class,
    change_class,
    change_show,
    remove_class,
)
from showrun.shows.api.body import read_body
from showrun.shows.api.described import example, refuses
from showrun.shows.api.once import once
from showrun.shows.api.serializers import ShowClassOut, ShowOut
from showrun.shows.api.view import View, as_it_was
from showrun.shows.queries import class_for, person_of, show_by_slug, show_for
from showrun.shows.rules.access import Deed


@example(
    {
        "name": "Lantern Draw Chuckwagon Days",
        "ground": "Three Kettles Ground",
        "starts_on": "2027-05-14",
        "ends_on": "2027-05-16",
        "judged_on": "2027-05-15",
    }
)
class FactsIn(serializers.Serializer):
    """A show's name, ground and days."""

    name = serializers.CharField(max_length=LONGEST_NAME)
    ground = serializers.CharField(max_length=LONGEST_GROUND)
    starts_on = serializers.DateField()
    ends_on = serializers.DateField()
    judged_on = serializers.DateField()


@example({"name": "Ranch wagon", "description": "Wagons of the ranch type.", "places": 3})
class ClassIn(serializers.Serializer):
    """A class as exhibitors read it, and how many of its places get an award."""

    name = serializers.CharField(max_length=LONGEST_NAME)
    description = serializers.CharField(
        max_length=LONGEST_DESCRIPTION, allow_blank=True, default=""
    )
    places = serializers.IntegerField(min_value=1, max_value=MOST_PLACES)


class Facts(View):
    """What everybody reads of a show."""

    @extend_schema(request=FactsIn, responses=ShowOut)
    @refuses("not-allowed", "conflict", if_match="may")
    @once
    def post(self, request: Request, slug: str) -> Response:
        show, given = show_for(request.user, slug, Deed.RUN_TERMS), read_body(FactsIn, request)
        with as_it_was(request, show, lambda: ShowOut(show_by_slug(slug)).data):
            change_show(show=show, by=person_of(request.user), at=timezone.now(), **given)
        return Response(ShowOut(show_by_slug(slug)).data)


class Classes(View):
    """The classes of a show."""

    @extend_schema(request=ClassIn, responses={201: ShowClassOut})
    @refuses("not-allowed", "conflict")
    @once
    def post(self, request: Request, slug: str) -> Response:
        show, given = show_for(request.user, slug, Deed.RUN_TERMS), read_body(ClassIn, request)
        made = add_class(show=show, by=person_of(request.user), at=timezone.now(), **given)
        return Response(ShowClassOut(made).data, status=201)


class OneClass(View):
    """A class that is to be said otherwise."""

    @extend_schema(request=ClassIn, responses=ShowClassOut)
    @refuses("not-allowed", "conflict")
    @once
    def post(self, request: Request, class_id: int) -> Response:
        found = class_for(request.user, class_id, Deed.RUN_TERMS)
        given = read_body(ClassIn, request)
        by, at = person_of(request.user), timezone.now()
        changed = change_class(show=found.show, class_id=found.pk, by=by, at=at, **given)
        return Response(ShowClassOut(changed).data)


class RemoveClass(View):
    """A class that is to go."""

    @extend_schema(request=None, responses={204: None})
    @refuses("not-allowed", "conflict")
    @once
    def post(self, request: Request, class_id: int) -> Response:
        found, by = class_for(request.user, class_id, Deed.RUN_TERMS), person_of(request.user)
        remove_class(show=found.show, class_id=found.pk, by=by, at=timezone.now())
        return Response(status=204)
