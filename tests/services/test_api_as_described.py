"""The served API against its description: what it answers is what it says it answers.

Requests are made from `openapi.yaml`, right ones and wrong ones, and sent to a real web server as
five visitors; a thorough run makes more of each kind.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import httpx
import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from hypothesis.errors import Unsatisfiable
from schemathesis import APIOperation, BaseSchema, Case, GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.core.result import Ok
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from tests.api_stage import EXAMPLES, VISITORS, Stage
from tests.house.tree import ROOT

pytestmark = pytest.mark.services

SCHEMA = schemathesis.openapi.from_path(str(ROOT / "showrun/shows/api/openapi.yaml"))


def operations_of(schema: BaseSchema) -> list[APIOperation]:
    """Every operation; one whose description cannot be read is a fault."""
    found = list(schema.get_all_operations())
    assert [one for one in found if not isinstance(one, Ok)] == []
    return [one.ok() for one in found if isinstance(one, Ok)]


OPERATIONS = operations_of(SCHEMA)
CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
]
JSON, TEXT = "application/json", "text/plain"
METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "TRACE")
BOUNDED = settings(
    max_examples=EXAMPLES,
    derandomize=True,  # the same requests in every run
    database=None,
    deadline=None,
    suppress_health_check=list(HealthCheck),
    phases=[Phase.explicit, Phase.generate],
)


@pytest.fixture(scope="module")
def stage(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Stage]:
    """Both shows, served once for this file."""
    served = Stage.serve(tmp_path_factory.mktemp("described"))
    yield served
    served.live.close()


def with_real_ids(case: Case, stage: Stage, which: int) -> Case:
    """Ask for what is there, four times of five; else for what was made up."""
    if which:
        for name in list(case.path_parameters):
            case.path_parameters[name] = stage.values[which % 2][name]
    return case


def try_out(operation: APIOperation, stage: Stage, visitor: str, mode: GenerationMode) -> list[int]:
    """Send the requests and check each answer; return the statuses."""
    answered: list[int] = []

    @BOUNDED
    @given(operation.as_strategy(generation_mode=mode), st.integers(0, 4))
    def each(case: Case, which: int) -> None:
        case = with_real_ids(case, stage, which)
        response = case.call(base_url=stage.live.url, **stage.shown_by(visitor))
        answered.append(response.status_code)
        case.validate_response(response, checks=CHECKS)

    try:
        each()
    except Unsatisfiable:  # nothing wrong can be made of an address without anything in it
        assert mode is GenerationMode.NEGATIVE
    return answered


@pytest.mark.parametrize("visitor", VISITORS)
def test_every_answer_is_a_described_one(stage: Stage, visitor: str):
    """No 5xx; status, content type, headers and body as the description says."""
    seen: dict[str, list[int]] = {}
    for operation in OPERATIONS:
        both = [GenerationMode.POSITIVE]
        # Whoever is refused at the door is refused whatever they bring.
        if visitor == ("phone" if "/device/" in operation.path else "office"):
            both.append(GenerationMode.NEGATIVE)
        for mode in both:
            seen.setdefault(operation.label, []).extend(try_out(operation, stage, visitor, mode))
    assert len(seen) == len(OPERATIONS) > 60
    worked = {name for name, statuses in seen.items() if any(s < 300 for s in statuses)}
    least = {"office": 20, "phone": 4, "owner": 6, "stranger": 4, "nobody": 3}
    assert len(worked) >= least[visitor], "most of it was refused before anything was looked at"
    for operation in OPERATIONS:
        asks = operation.definition.raw.get("security", [])
        if visitor == "nobody" and asks and {} not in asks:
            statuses = set(seen[operation.label])
            assert statuses <= {401, 403, 404}, (operation.label, statuses)


def test_what_the_description_shows_as_an_example_can_be_sent(stage: Stage):
    """Whether the show is at that point is another matter (403, 404, 409, 410)."""
    refused, sent = [], 0
    for operation in OPERATIONS:
        content = operation.definition.raw.get("requestBody", {}).get("content", {})
        if JSON not in content:
            continue
        (shown,) = content[JSON]["examples"].values()
        visitor = "phone" if "/device/" in operation.path else "office"
        credentials = stage.shown_by(visitor)
        answer = httpx.request(
            operation.method,
            stage.live.url + path_of(operation, stage),
            json=shown["value"],
            headers={**credentials["headers"], "If-Match": "*"},
            cookies=credentials.get("cookies"),
            timeout=60,
        )
        if answer.status_code >= 300 and answer.status_code not in (403, 404, 409, 410):
            refused.append((operation.label, answer.status_code, answer.text[:200]))
        sent += 1
    assert refused == []
    assert sent > 25


def path_of(operation: APIOperation, stage: Stage) -> str:
    return re.sub(r"{(\w+)}", lambda name: str(stage.values[0][name[1]]), operation.path)


def test_a_method_that_is_not_described_is_answered_405_with_those_that_are(stage: Stage):
    described: dict[str, set[str]] = {}
    for operation in OPERATIONS:
        described.setdefault(path_of(operation, stage), set()).add(operation.method.upper())
    tried = 0
    office, phone = stage.shown_by("office"), stage.shown_by("phone")
    with httpx.Client(base_url=stage.live.url, timeout=60) as http:
        for path, methods in described.items():
            shown = phone if "/device/" in path else office
            http.cookies = httpx.Cookies(shown.get("cookies", {}))
            for method in METHODS:
                if method in methods or (method == "HEAD" and "GET" in methods):
                    continue
                answer = http.request(method, path, headers=shown["headers"])
                assert answer.status_code == 405, (method, path, answer.status_code)
                told = {word.strip() for word in answer.headers["Allow"].split(",")}
                assert told - {"OPTIONS", "HEAD"} == methods, (method, path)
                tried += 1
    assert tried > 200


@pytest.mark.parametrize(
    ("sent", "status", "code"),
    [
        ({"content": "{", "headers": {"Content-Type": "application/json"}}, 400, "parse-error"),
        (
            {"content": "a", "headers": {"Content-Type": "text/plain"}},
            415,
            "unsupported-media-type",
        ),
        ({"json": {}, "headers": {"Accept": "text/csv"}}, 406, "not-acceptable"),
        ({"json": {"n": "x" * 1_000_001}}, 413, "body-too-large"),
    ],
)
def test_what_is_wrong_with_the_request_itself_is_said_everywhere_alike(
    stage: Stage, sent: dict[str, Any], status: int, code: str
):
    shown, tried = stage.shown_by("office"), 0
    for operation in OPERATIONS:
        takes = operation.definition.raw
        if "requestBody" not in takes or "/device/" in operation.path:
            continue
        headers = {**shown["headers"], **sent.get("headers", {}), "If-Match": "*"}
        answer = httpx.request(
            operation.method,
            stage.live.url + path_of(operation, stage),
            **{**sent, "headers": headers},
            cookies=shown["cookies"],
            timeout=60,
        )
        assert (answer.status_code, answer.json()["code"]) == (status, code), operation.label
        assert answer.headers["Content-Type"] == "application/problem+json"
        assert str(status) in takes["responses"], operation.label
        tried += 1
    assert tried > 20


def test_the_checks_notice_an_answer_that_is_not_described(stage: Stage):
    """What this file leans on does find a fault, in a description that promises something else."""
    lying = SCHEMA.raw_schema["paths"]["/api/v1/me"]["get"]["responses"]
    (operation,) = (one for one in OPERATIONS if one.label == "GET /api/v1/me")
    kept = lying.pop("403")
    try:
        changed = operations_of(schemathesis.openapi.from_dict(SCHEMA.raw_schema))
        (again,) = (one for one in changed if one.label == operation.label)
        with pytest.raises(BaseException, match="Undocumented"):
            try_out(again, stage, "nobody", GenerationMode.POSITIVE)
    finally:
        lying["403"] = kept
