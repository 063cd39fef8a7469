"""How an operation is described: its own shapes, and every refusal it can answer.

What an address may refuse by being what it is (a body, a phone's token, a list) is read off the
view; what its verb may refuse is named beside the view by `refuses`.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Iterable
from typing import Any, TypeVar

from django.conf import settings
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiExample, OpenApiParameter, extend_schema_serializer
from rest_framework import serializers
from rest_framework.negotiation import DefaultContentNegotiation
from rest_framework.parsers import JSONParser
from rest_framework.permissions import AllowAny

from showrun.shows.api.problem_types import TYPES
from showrun.shows.api.problems import MEDIA_TYPE

Handler = TypeVar("Handler", bound=Callable[..., Any])
UNSAFE = ("POST", "PUT", "PATCH", "DELETE")
# By the first words of an address after the show's own; the rest of the address does not matter.
TAGS = {
    "shows": ("me", "shows", "schema"),
    "entries": ("entries",),
    "scorecards": ("scorecards", "schemas", "classes/{class_id}/declare"),
    "judges": ("judges", "panel"),
    "window": ("window", "day", "pauses", "plans", "hours"),
    "round": ("device",),
    "questions": ("questions", "findings", "events", "concerns", "rig-reports", "progress"),
    "food": ("food",),
    "results": ("classes/{class_id}/result", "results"),
    "papers": ("papers",),
}


class SessionScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    """A person's session; whatever changes something shows the CSRF token beside it."""

    target_class = "rest_framework.authentication.SessionAuthentication"
    name = ["cookieAuth", "csrfToken"]  # type: ignore[assignment]

    def get_security_requirement(self, auto_schema: Any) -> dict[str, list[str]]:
        both = auto_schema.method in UNSAFE
        return {"cookieAuth": [], "csrfToken": []} if both else {"cookieAuth": []}

    def get_security_definition(self, auto_schema: Any) -> list[dict[str, str]]:
        session, token = settings.SESSION_COOKIE_NAME, settings.CSRF_COOKIE_NAME
        return [
            {"type": "apiKey", "in": "cookie", "name": session, "description": "A sign-in link."},
            {
                "type": "apiKey",
                "in": "header",
                "name": "X-CSRFToken",
                "description": f"What the cookie `{token}` holds.",
            },
        ]


class ProblemOut(serializers.Serializer[Any]):
    """Why a request was refused (RFC 9457)."""

    type = serializers.CharField(help_text="`/problems/` and the code.")
    title = serializers.CharField(help_text="Always the same for a type.")
    status = serializers.IntegerField()
    detail = serializers.CharField(help_text="A sentence for the person.")
    code = serializers.CharField(help_text="Stable, for programs.")
    errors = serializers.DictField(  # type: ignore[assignment]
        child=serializers.ListField(child=serializers.CharField()),
        required=False,
        help_text="Sentences by the place in what was sent, such as `crew.1.name`.",
    )


def example(value: dict[str, Any]) -> Callable[[Any], Any]:
    """Show with a shape what may be sent; a test sends each of them."""
    shown = OpenApiExample("Such as", value=value, request_only=True)
    return extend_schema_serializer(examples=[shown])


def refuses(*codes: str, if_match: str = "") -> Callable[[Handler], Handler]:
    """Name what the operation's verb may refuse, by the codes of `problem_types`.

    `if_match` is "may" where the operation heeds If-Match, "must" where it asks for it.
    """

    def named(handler: Handler) -> Handler:
        vars(handler)["refusals"] = codes
        vars(handler)["if_match"] = if_match
        return handler

    return named


class Described(AutoSchema):
    """Adds to each operation what every address of its kind may answer."""

    def get_tags(self) -> list[str]:
        rest = re.sub(r"^/api/v1/(shows/\{slug\}/)?", "", self.path).strip("/")
        for tag, starts in TAGS.items():
            if any(rest == start or rest.startswith(f"{start}/") for start in starts):
                return [tag]
        return ["shows"]

    def get_override_parameters(self) -> list[Any]:
        handler = self._handler()
        found = []
        if self.method == "GET" and self._is_json():
            found.append(_header("If-None-Match", "An ETag you have; its answer may be 304."))
        if takes := getattr(handler, "if_match", ""):
            says = "The ETag of what you read; another state is refused with 412."
            found.append(_header("If-Match", says, required=takes == "must"))
        if getattr(handler, "once", False):
            says = "Your own word for this request; sent again with it, it is not done again."
            found.append(_header("Idempotency-Key", says, pattern=r'^"?[!#-~]{1,255}"?$'))
        return found

    def get_operation(self, *args: Any, **more: Any) -> dict[str, Any] | None:
        operation = super().get_operation(*args, **more)
        if operation is None:
            return None
        answers = operation["responses"]
        if self.method == "GET" and self._is_json():
            for answer in (a for status, a in answers.items() if status == "200"):
                answer["headers"] = {**answer.get("headers", {}), **_told("ETag")}
                if any(p["name"] == "offset" for p in operation.get("parameters", ())):
                    answer["headers"] |= _told("Link")
            answers.setdefault("304", {"description": "You have it already.",
                                       "headers": _told("ETag")})  # fmt: skip
        by_status: dict[int, list[str]] = defaultdict(list)
        for code in dict.fromkeys(self._refusals(operation)):
            by_status[self._status(code)].append(code)
        for status, codes in by_status.items():
            answers[str(status)] = self._refused(status, codes)
        operation["responses"] = {status: answers[status] for status in sorted(answers)}
        return operation

    # --- What an address may refuse by being what it is -----------------------------------------
    def _handler(self) -> Any:
        return getattr(self.view, self.method.lower(), None)

    def _is_json(self) -> bool:
        """Whether what is asked for in Accept is looked at; a photo is a photo."""
        return self.view.content_negotiation_class is DefaultContentNegotiation

    def _is_phones(self) -> bool:
        doors = self.view.get_authenticators()
        return any("Bearer" in str(one.authenticate_header(self.view.request)) for one in doors)

    def _lets_shut_out_in(self) -> bool:
        doors = self.view.get_authenticators()
        return any(getattr(one, "lets_shut_out_in", False) for one in doors)

    def _status(self, code: str) -> int:
        if code == "not-authenticated" and not self._is_phones():
            return 403
        return TYPES[code].status

    def _refusals(self, operation: dict[str, Any]) -> Iterable[str]:
        yield from self._of_the_door()
        yield from self._of_what_is_sent(operation)
        yield from self._of_the_headers()
        yield from getattr(self._handler(), "refusals", ())

    def _of_the_door(self) -> Iterable[str]:
        open_to_all = any(isinstance(one, AllowAny) for one in self.view.get_permissions())
        if self._is_json():
            yield "not-acceptable"
        if self._is_phones():
            yield from ("not-authenticated", "device-unknown")
            if not self._lets_shut_out_in():
                yield "device-shut-out"
        elif not open_to_all:
            yield "not-authenticated"
            if self.method in UNSAFE:
                yield "permission-denied"
        if self.view.get_throttles():
            yield "throttled"

    def _of_what_is_sent(self, operation: dict[str, Any]) -> Iterable[str]:
        places = {parameter["in"] for parameter in operation.get("parameters", ())}
        if "path" in places:
            yield "not-found"
        if "query" in places:
            yield "invalid-input"
        if "requestBody" in operation:
            yield "invalid-input"
            yield from self._of_a_body()

    def _of_a_body(self) -> Iterable[str]:
        yield from ("parse-error", "unsupported-media-type")
        if any(issubclass(parser, JSONParser) for parser in self.view.parser_classes):
            yield "body-too-large"

    def _of_the_headers(self) -> Iterable[str]:
        handler = self._handler()
        if getattr(handler, "once", False):
            yield from ("bad-key", "in-progress", "key-reused")
            yield from self._of_a_body()
        if takes := getattr(handler, "if_match", ""):
            yield "changed-meanwhile"
            if takes == "must":
                yield "if-match-needed"

    def _refused(self, status: int, codes: list[str]) -> dict[str, Any]:
        known = self.resolve_serializer(ProblemOut, "response").ref
        narrowed = {"properties": {"status": {"const": status}, "code": {"enum": sorted(codes)}}}
        answer: dict[str, Any] = {
            "description": " ".join(f"`{code}`: {TYPES[code].meaning}" for code in sorted(codes)),
            "content": {MEDIA_TYPE: {"schema": {"allOf": [known, narrowed]}}},
        }
        if status == 429:
            answer["headers"] = _told("Retry-After")
        if status == 401:
            answer["headers"] = _told("WWW-Authenticate")
        return answer


def _header(name: str, says: str, *, required: bool = False, pattern: str = "") -> OpenApiParameter:
    shape: Any = {"type": "string", "pattern": pattern} if pattern else OpenApiTypes.STR
    return OpenApiParameter(name, shape, "header", description=says, required=required)


_TOLD = {
    "ETag": ("string", "Changes whenever what is told does."),
    "Link": ("string", "Leads to the next and the previous part of the list (RFC 8288)."),
    "Retry-After": ("integer", "Seconds to wait."),
    "WWW-Authenticate": ("string", "How a phone shows who it is."),
}


def _told(name: str) -> dict[str, Any]:
    kind, says = _TOLD[name]
    required = {"required": True} if name in ("ETag", "Retry-After", "WWW-Authenticate") else {}
    return {name: {"description": says, "schema": {"type": kind}, **required}}


def share_refusals(result: dict[str, Any], **_: Any) -> dict[str, Any]:
    """Say once what many operations answer alike, under a name made of its codes."""
    everywhere: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for operations in result["paths"].values():
        for operation in operations.values():
            for status, answer in operation["responses"].items():
                if MEDIA_TYPE in answer.get("content", {}):
                    narrowed = answer["content"][MEDIA_TYPE]["schema"]["allOf"][1]["properties"]
                    name = ".".join([status, *narrowed["code"]["enum"]])
                    everywhere[name].append(operation["responses"])
    shared = result.setdefault("components", {}).setdefault("responses", {})
    for name, holders in sorted(everywhere.items()):
        status = name[:3]
        if len(holders) > 1:
            shared[name] = holders[0][status]
            for holder in holders:
                holder[status] = {"$ref": f"#/components/responses/{name}"}
    return result
