"""The API's description: whole, valid, and naming every address there is."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
import yaml
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from judging.api import office

pytestmark = pytest.mark.django_db
PHOTO = "/api/v1/device/photos/{photo_id}"
OF_A_PHONE = {*(f"/api/v1/device/{name}" for name in ("round", "events", "photos")), PHOTO}
METHODS = ("get", "post", "put", "patch", "delete")


@pytest.fixture(scope="module")
def described(tmp_path_factory: Any) -> dict[str, Any]:
    """The description as the command writes it; any warning or error of its making fails."""
    file = tmp_path_factory.mktemp("openapi") / "openapi.yaml"
    call_command("spectacular", file=str(file), validate=True, fail_on_warn=True)
    return dict(yaml.safe_load(Path(file).read_text()))


def routes(inside: list[Any], before: str = "/") -> list[tuple[str, URLPattern]]:
    found: list[tuple[str, URLPattern]] = []
    for one in inside:
        route = before + str(one.pattern)
        found += routes(one.url_patterns, route) if isinstance(one, URLResolver) else [(route, one)]
    return found


def test_it_is_openapi_3_1(described: dict[str, Any]):
    assert described["openapi"] == "3.1.0"
    assert described["info"]["title"]


def test_every_address_of_the_api_is_described_and_no_other(described: dict[str, Any]):
    there = set()
    for route, pattern in routes(get_resolver().url_patterns):
        view = getattr(pattern.callback, "view_class", None)
        if view is not None and route != "/api/v1/schema/":
            path = re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", route)
            there |= {(path, method) for method in METHODS if hasattr(view, method)}
    told = {(path, m) for path, does in described["paths"].items() for m in does if m in METHODS}
    assert len(there) > 30
    assert told - {("/api/v1/schema/", "get")} == there


def operations(described: dict[str, Any]) -> list[tuple[str, str, dict[str, Any]]]:
    every = described["paths"].items()
    return [(path, m, does[m]) for path, does in every for m in METHODS if m in does]


def test_every_operation_has_its_own_name_and_an_answer_of_known_shape(described: dict[str, Any]):
    names = [does["operationId"] for _, _, does in operations(described)]
    assert len(names) == len(set(names))
    for path, method, does in operations(described):
        good = {code: body for code, body in does["responses"].items() if code.startswith("2")}
        assert good, (path, method)
        for code, body in good.items():
            if code == "204":
                assert "content" not in body
                continue
            (shape,) = {str(one["schema"]) for one in body["content"].values()}
            plain = path in ("/api/v1/schema/", PHOTO)
            assert "$ref" in shape or plain, (path, method)


def test_a_phones_addresses_ask_for_a_token_and_the_offices_for_a_session(
    described: dict[str, Any],
):
    schemes = described["components"]["securitySchemes"]
    assert schemes["device"]["scheme"] == "bearer"
    for path, method, does in operations(described):
        asked = {name for one in does.get("security", []) for name in one}
        if path in OF_A_PHONE:
            assert asked == {"device"}, path
        elif path == "/api/v1/device/pair":
            assert asked == set()
        else:
            assert "device" not in asked, (path, method)
            assert "cookieAuth" in asked, (path, method)


def test_what_the_device_may_send_is_described(described: dict[str, Any]):
    batch = described["components"]["schemas"]["BatchInRequest"]
    assert batch["properties"]["events"]["type"] == "array"
    assert batch["required"] == ["events"]


def test_it_is_served_to_anybody(client: Client):
    answered = client.get("/api/v1/schema/")
    assert answered.status_code == 200
    assert yaml.safe_load(answered.content)["openapi"] == "3.1.0"


def test_a_view_that_says_nothing_of_its_answer_would_be_noticed(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
):
    def silent(self: APIView, request: Request, slug: str) -> Response:
        return Response({})

    monkeypatch.setattr(office.TheProgress, "get", silent)
    with pytest.raises(CommandError, match=r"warnings|errors"):
        call_command("spectacular", file=str(tmp_path / "x"), validate=True, fail_on_warn=True)
