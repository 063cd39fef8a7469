"""The API's description: whole, valid, and naming every address there is."""

from __future__ import annotations

import json
import re
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
import yaml
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver
from jsonschema import Draft202012Validator
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from judging.api import office
from showrun.shows.api.problem_types import ALSO, TYPES
from tests.house.tree import ROOT

pytestmark = pytest.mark.django_db
PHOTO = "/api/v1/device/photos/{photo_id}"
OF_A_PHONE = {*(f"/api/v1/device/{name}" for name in ("round", "events", "photos")), PHOTO}
KEPT = "showrun/shows/api/openapi.yaml"
METHODS = ("get", "post", "put", "patch", "delete")


def read(file: Path) -> dict[str, Any]:
    """Read a description from its file."""
    return dict(yaml.load(file.read_text(encoding="utf-8"), yaml.CSafeLoader))


@pytest.fixture(scope="module")
def described(tmp_path_factory: Any) -> dict[str, Any]:
    """The description as the command writes it; any warning or error of its making fails."""
    file = tmp_path_factory.mktemp("openapi") / "openapi.yaml"
    call_command("spectacular", file=str(file), validate=True, fail_on_warn=True)
    return read(file)


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
        elif path in ("/api/v1/device/pair", "/api/v1/device/code"):
            assert asked == set()
        else:
            assert "device" not in asked, (path, method)
            assert "cookieAuth" in asked, (path, method)


def test_what_the_device_may_send_is_described(described: dict[str, Any]):
    batch = described["components"]["schemas"]["BatchInRequest"]
    assert batch["properties"]["events"]["type"] == "array"
    assert batch["required"] == ["events"]


def test_it_is_kept_as_the_code_makes_it_and_served_to_anybody(
    described: dict[str, Any], client: Client
):
    stale = f"python3 manage.py spectacular --file {KEPT}"
    assert read(ROOT / KEPT) == described, stale
    answered = client.get("/api/v1/schema/")
    assert (answered.status_code, answered["Content-Type"]) == (200, "application/vnd.oai.openapi")
    assert yaml.load(answered.content, yaml.CSafeLoader) == described


# --- Against the standard ------------------------------------------------------------------


def test_it_keeps_to_the_meta_schema_of_openapi_3_1(described: dict[str, Any]):
    """By the OpenAPI Initiative's schema of 3.1, as drf-spectacular brings it."""
    file = files("drf_spectacular.validation") / "openapi_3_1_schema.json"
    meta = json.loads(file.read_text(encoding="utf-8"))
    assert meta["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    judge = Draft202012Validator(meta)
    assert sorted(judge.iter_errors(described), key=str) == []
    spoiled = {**described, "paths": {"me": {"get": {"responses": {"ok": {}}}}}}
    assert list(judge.iter_errors(spoiled)) != []


def test_every_shape_is_a_schema_of_2020_12(described: dict[str, Any]):
    shapes = described["components"]["schemas"]
    for shape in shapes.values():
        Draft202012Validator.check_schema(shape)
    named = set(re.findall(r"'#/components/(\w+)/([^']+)'", str(described)))
    parts = described["components"]
    assert {(kind, name) for kind, name in named if name not in parts[kind]} == set()
    assert {name for kind, name in named if kind == "schemas"} == set(shapes), "and each is used"


# --- Conventions ---------------------------------------------------------------------------


def kinds_of(shape: dict[str, Any]) -> set[str]:
    kind = shape.get("type", [])
    return {kind} if isinstance(kind, str) else set(kind)


def test_money_is_whole_cents_times_have_an_offset_lengths_are_feet(described: dict[str, Any]):
    seen = dict.fromkeys(("cents", "at", "on", "ft", "minutes"), 0)
    for name, shape in described["components"]["schemas"].items():
        for field, says in shape.get("properties", {}).items():
            unit = field.rsplit("_", 1)[-1]
            where = (name, field)
            assert not re.search(r"price|dollar|fee$|amount$|metre|meter", field), where
            if unit in ("cents", "ft", "minutes"):
                assert kinds_of(says) - {"null"} == {"integer"}, where
            elif unit == "at" and where != ("BatchInRequest", "sent_at"):
                assert says["format"] == "date-time", where
            elif unit == "on" and kinds_of(says) & {"string"} and says.get("format"):
                assert says["format"] == "date", where
            seen[unit] = seen.get(unit, 0) + 1
    assert all(seen[unit] >= 2 for unit in ("cents", "at", "on", "ft", "minutes")), seen


def test_every_operation_has_a_tag_that_is_told_and_every_list_its_limits(
    described: dict[str, Any],
):
    told = {tag["name"] for tag in described["tags"]}
    used = set()
    for path, method, does in operations(described):
        assert set(does["tags"]) <= told, path
        used |= set(does["tags"])
        assert does["description"], (path, method)
        for parameter in does.get("parameters", ()):
            if parameter["in"] == "query" and parameter["schema"].get("type") == "integer":
                assert {"minimum", "maximum"} <= set(parameter["schema"]), (path, parameter)
    assert used == told


def test_every_refusal_is_a_problem_with_its_codes(described: dict[str, Any]):
    shared = described["components"]["responses"]
    seen = 0
    for path, method, does in operations(described):
        for status, said in does["responses"].items():
            if status < "400":
                continue
            answer = shared[said["$ref"].rsplit("/", 1)[-1]] if "$ref" in said else said
            (media_type,) = answer["content"]
            assert media_type == "application/problem+json", (path, method, status)
            narrowed = answer["content"][media_type]["schema"]["allOf"][1]["properties"]
            assert narrowed["status"]["const"] == int(status)
            for code in narrowed["code"]["enum"]:
                assert int(status) in (TYPES[code].status, *ALSO.get(code, ())), (path, code)
                seen += 1
    assert seen > 400


def test_a_change_of_the_api_would_be_noticed(
    monkeypatch: pytest.MonkeyPatch, described: dict[str, Any], tmp_path: Path
):
    monkeypatch.setattr(office.TheProgress.get, "refusals", ("not-allowed", "gone"))
    call_command("spectacular", file=str(tmp_path / "x"))
    assert read(tmp_path / "x") != described


def test_a_view_that_says_nothing_of_its_answer_would_be_noticed(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
):
    def silent(self: APIView, request: Request, slug: str) -> Response:
        return Response({})

    monkeypatch.setattr(office.TheProgress, "get", silent)
    with pytest.raises(CommandError, match=r"warnings|errors"):
        call_command("spectacular", file=str(tmp_path / "x"), validate=True, fail_on_warn=True)
