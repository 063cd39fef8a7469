"""What a phone gets is what the API's description says, to the key: the phone's types are made
from it."""

from __future__ import annotations

from typing import Any

import pytest
from drf_spectacular.generators import SchemaGenerator
from jsonschema import Draft202012Validator

from tests.http_phone import Phone, first_entry
from tests.judged_show import rows_of
from tests.round_events import mark, rig_found

pytestmark = pytest.mark.django_db


def closed(schema: Any) -> Any:
    """Return a schema in which an object may hold the keys it names and no others."""
    if isinstance(schema, list):
        return [closed(one) for one in schema]
    if not isinstance(schema, dict):
        return schema
    inside = {key: closed(value) for key, value in schema.items()}
    return {**inside, "additionalProperties": False} if "properties" in schema else inside


@pytest.fixture(scope="module")
def components() -> Any:
    """The shapes of the description."""
    described = SchemaGenerator().get_schema(request=None, public=True)
    return closed(described["components"])


def faults(components: Any, name: str, given: Any) -> list[str]:
    schema = {"$ref": f"#/components/schemas/{name}", "components": components}
    found = Draft202012Validator(schema).iter_errors(given)
    return [f"{'/'.join(map(str, one.absolute_path))}: {one.message}" for one in found]


def test_the_round_is_as_described(phone: Phone, components: Any):
    entry = first_entry(phone.device.judge)
    rows = rows_of(phone.device.judge, entry)
    other = {**entry.rig.facts(), "tongue": "stiff"}
    events = phone.stamp([mark(entry, rows[0].code, "7"), rig_found(entry, other, "Saw it.")])
    assert {one["status"] for one in phone.send(events)} == {"applied"}
    given = phone.round().json()
    told = next(visit for visit in given["visits"] if visit["entry"]["id"] == entry.pk)
    assert told["card"]["marks"] or told["card"]["aside"]
    assert faults(components, "RoundOut", given) == []


def test_a_key_that_is_not_described_would_be_noticed(phone: Phone, components: Any):
    given = phone.round().json()
    given["visits"][0]["entry"]["wheels"] = 4
    del given["card"]["name"]
    assert len(faults(components, "RoundOut", given)) == 2


def test_the_answer_to_a_batch_is_as_described(phone: Phone, components: Any):
    entry = first_entry(phone.device.judge)
    row = rows_of(phone.device.judge, entry)[0].code
    events = phone.stamp([mark(entry, row, "7"), {"kind": "?"}])
    answered = phone.post({"unsent": 0, "events": events}).json()
    assert {one["status"] for one in answered["results"]} == {"applied", "held"}
    assert answered["cards"]
    assert faults(components, "BatchOut", answered) == []
