"""The round in the reader's language; what is kept and hashed is the same in every language."""

from __future__ import annotations

from typing import Any

import pytest

from judging.models import Judge, RoundEvent
from tests.http_phone import EVENTS, Phone, first_entry
from tests.judged_show import mark

pytestmark = pytest.mark.django_db

SPANISH = {"accept-language": "es"}
# What the service says of itself; all else the show wrote, or no language touches.
SAID = ("rig_facts", "policies_by_class", "handbook", "visits")


def spanish(phone: Phone) -> dict[str, Any]:
    """Return the round as a Spanish reader gets it."""
    return dict(phone.round(**SPANISH).json())


def test_the_services_words_follow_the_reader_and_the_shows_do_not(phone: Phone):
    english, told = phone.round().json(), spanish(phone)
    for one in (english, told):
        del one["server_time"]
    assert {key for key in english if english[key] != told[key]} <= set(SAID)
    assert told["rig_facts"][0]["words"] == "Lanza"
    assert told["policies_by_class"][0]["states"]["zero"].startswith("Cero es una calificación")
    assert told["visits"][0]["entry"]["rig_words"] != english["visits"][0]["entry"]["rig_words"]
    parts = [list(one["handbook"]["parts"].values()) for one in (english, told)]
    for ours, theirs in zip(*parts, strict=True):
        assert {key for key in ours if ours[key] != theirs[key]} <= {"rigs"}


def test_each_language_has_a_tag_of_its_own(phone: Phone):
    english, told = phone.round(), phone.round(**SPANISH)
    tags = english.headers["ETag"], told.headers["ETag"]
    assert tags[0] != tags[1]
    assert "Accept-Language" in told.headers["Vary"]
    assert told.headers["Content-Language"] == "es"
    again = {"if-none-match": tags[0]}
    assert phone.round(**again).status_code == 304
    assert phone.round(**again, **SPANISH).status_code == 200
    assert phone.round(**{"if-none-match": tags[1]}, **SPANISH).status_code == 304


def test_codes_marks_and_hashes_know_no_language(phone: Phone, judge: Judge):
    entry = first_entry(judge)
    row = next(iter(phone.round().json()["card"]["sections"]))["criteria"][0]["code"]
    phone.send(phone.stamp([mark(entry, row, 7)]))
    english, told = phone.round().json(), spanish(phone)
    for ours, theirs in zip(english["visits"], told["visits"], strict=True):
        assert ours["card"] == theirs["card"]
        assert ours["entry"]["rig"] == theirs["entry"]["rig"]
    assert english["card"] == told["card"]


def test_why_a_touch_waits_is_kept_in_english_whoever_sent_it(phone: Phone, judge: Judge):
    entry = first_entry(judge)
    rig = {"kind": "rig", "entry": entry.pk, "rig": {"tongue": "rubber"}, "text": ""}
    batch = {"unsent": 0, "events": phone.stamp([rig, mark(entry, "no-such-row", 7)])}
    answered = phone.http.post(
        EVENTS, batch, content_type="application/json", headers={**phone.headers, **SPANISH}
    )
    reasons = [one["reason"] for one in answered.json()["results"]]
    assert reasons == [row.reason for row in RoundEvent.objects.order_by("seq")]
    assert "drop tongue or stiff tongue, please." in reasons[0]
    assert reasons[1] == "That row is not among the sections this judge has here."


def test_the_page_comes_in_the_language_asked_for(client):
    page = client.get("/round/", headers=SPANISH)
    assert '<html lang="es">' in page.content.decode()
    assert "necesita JavaScript" in page.content.decode()
    assert '<html lang="en">' in client.get("/round/").content.decode()
    told = client.get("/round/manifest.webmanifest", headers=SPANISH).json()
    assert (told["lang"], told["name"]) == ("es", "Recorrido del juez")


def test_the_worker_is_the_same_in_every_language(client):
    english = client.get("/round/worker.js").content
    assert client.get("/round/worker.js", headers=SPANISH).content == english
