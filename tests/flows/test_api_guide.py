"""The guide's client, taken from the guide as it stands and run against a served show."""

from __future__ import annotations

import ast
import re
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest

from tests.house.tree import read
from tests.live import LiveShow
from tests.people import RIG

GUIDE = Path("showrun/shows/api/README.md")
CREW = [{"name": "Ada Moor", "role": "head_cook"}, {"name": "Ben Oak", "role": "cook"}]


@pytest.fixture(scope="module")
def client() -> Any:
    (text,) = re.findall(r"^```python\n(.*?)^```", read(GUIDE), re.DOTALL | re.MULTILINE)
    (work,) = (node for node in ast.parse(text).body if isinstance(node, ast.FunctionDef))
    assert work.end_lineno and work.end_lineno - work.lineno <= 25, "about twenty lines"
    names: dict[str, Any] = {}
    exec(compile(text, str(GUIDE), "exec"), names)
    return names[work.name]


def entry(**other: Any) -> dict[str, Any]:
    return {"wagon_name": "Guide Wagon", "rig": RIG, "classes": ["trail"], "crew": CREW, **other}


def test_the_guides_client_enters_a_wagon_once(client: Any, live_show: LiveShow):
    def link() -> str:
        return live_show.sign_in_link("guide.reader@showrun.example")

    live_show.manage("shell", "--no-imports", "-c", NEW_PERSON)
    codes = [one["code"] for one in live_show.office.api(f"/shows/{live_show.slug}")["classes"]]
    key, sent = str(uuid4()), entry(classes=codes[:1])
    first = client(link(), live_show.slug, sent, key)
    assert first["wagon_name"] == "Guide Wagon"
    again = client(link(), live_show.slug, sent, key)
    assert again == first, "the same key: the same answer, and no second wagon"
    told = live_show.office.api(f"/entries/{first['id']}")
    assert told["dietary_notes"] == "No walnuts, please."
    with pytest.raises(SystemExit, match=r"Something needs mending.*crew"):
        client(link(), live_show.slug, entry(classes=codes[:1], crew=[]), str(uuid4()))


NEW_PERSON = """
from showrun.shows.actions.plan_show import person_for
person_for(email="guide.reader@showrun.example", name="Rhea Reader")
"""
