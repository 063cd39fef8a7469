"""How often one may ask: so that one program in a loop does not slow the show down."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rest_framework.request import Request
from rest_framework.throttling import SimpleRateThrottle

from showrun.shows.models import Person

if TYPE_CHECKING:  # the views are made after the settings that name this class
    from rest_framework.views import APIView


class ByAddress(SimpleRateThrottle):
    """Tells strangers apart by the address that really connects.

    Any sender can write another address into a header, so none is read.
    """

    def get_ident(self, request: Request) -> str:
        return str(request.META.get("REMOTE_ADDR", ""))


class PersonThrottle(ByAddress):
    """Counts by person, and strangers by their address."""

    scope = "program"

    def get_cache_key(self, request: Request, view: APIView) -> str:
        who = request.user.pk if isinstance(request.user, Person) else self.get_ident(request)
        return self.cache_format % {"scope": self.scope, "ident": who}
