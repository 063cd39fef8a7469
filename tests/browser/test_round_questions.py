"""Each kind of question on the phone: what is asked, and what a judge may answer."""

from __future__ import annotations

from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Route, expect

pytestmark = pytest.mark.browser

KINDS = {
    "marks": ["The mark is right", "Correct it", "I cannot recall"],
    "cards": ["The card is right", "Open the card again", "I cannot recall"],
    "swaps": ["Both cards are right", "Open both cards again", "I cannot recall"],
    "day": ["I have seen it", "I cannot recall"],
}
SAID = {
    ("cards", "Open the card again"): ("correct", "You asked to open the card again."),
    ("swaps", "Both cards are right"): ("confirm", "You said: both cards are right."),
    ("day", "I have seen it"): ("confirm", "You said: seen."),
    ("marks", "I cannot recall"): ("unsure", "You said: I cannot recall."),
}


def asked(kind: str, number: int, visits: list[dict[str, Any]]) -> dict[str, Any]:
    """A question as the server puts it; what does not fit its kind is nothing."""
    first, second = (visit["entry"]["id"] for visit in visits[-2:])
    return {
        "id": 900_000 + number,
        "kind": kind,
        "check": kind,
        "entry": None if kind == "day" else first,
        "other_entry": second if kind == "swaps" else None,
        "criterion": "wheels" if kind == "marks" else None,
        "value": "1" if kind == "marks" else None,
        "expected": "8.0" if kind == "marks" else None,
        "sentence": f"A question about {kind}.",
        "state": "proposed" if kind == "cards" else "open",
    }


def test_every_kind_of_question_has_its_own_answers(phone, small_show, shoot):
    def ask(route: Route) -> None:
        reply = route.fetch()
        if reply.status != 200:
            route.fulfill(response=reply)
            return
        body = reply.json()
        body["questions"] = [asked(kind, n, body["visits"]) for n, kind in enumerate(KINDS)]
        route.fulfill(response=reply, json=body)

    phone.page.route("**/api/v1/device/round", ask)
    phone.page.route("**/api/v1/device/events", lambda route: route.abort())
    phone.pair(small_show.pairing_link("J6"))
    shown = {kind: phone.page.locator(f"[data-kind='{kind}']") for kind in KINDS}
    for kind, answers in KINDS.items():
        expect(shown[kind]).to_contain_text(f"A question about {kind}.")
        expect(shown[kind].get_by_role("button")).to_have_text(answers)
    links = {"marks": 1, "cards": 1, "swaps": 2, "day": 0}
    for kind, count in links.items():
        expect(shown[kind].get_by_role("link")).to_have_count(count)
    assert Axe().run(phone.page).response["violations"] == []
    shoot(phone, "questions")
    shown["day"].locator("input").fill("The sun stood low.")
    for (kind, answer), (_, words) in SAID.items():
        shown[kind].get_by_role("button", name=answer).click()
        expect(shown[kind]).to_contain_text(f"{words} Saved, waits to be sent.")
    sent = [one["body"] for one in phone.kept()]
    kinds = list(KINDS)
    assert {(kinds[one["question"] - 900_000], one["verdict"], one["value"]) for one in sent} == {
        (kind, verdict, None) for (kind, _), (verdict, _) in SAID.items()
    }
    assert [one["text"] for one in sent if one["text"]] == ["The sun stood low."]
