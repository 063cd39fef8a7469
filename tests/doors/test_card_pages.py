"""The office's cards: the library, files that are brought in and given out, bad files, phones."""

from __future__ import annotations

import json
import re
from copy import deepcopy
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from judging.actions.adopt_scorecard import adopt_scorecard
from judging.actions.version_scorecard import new_version
from judging.models import Scorecard
from judging.queries.cards import card_data, card_version
from judging.queries.library import library_cards
from judging.rules.cards.card_text import read_text, write_yaml
from showrun.shows.models import Show
from tests.judged_show import AT, RIGS, build_show, office_of, steward_of
from tests.small_card import SCORECARD

pytestmark = pytest.mark.django_db


@pytest.fixture
def show() -> Show:
    return build_show()


def at(show: Show, name: str, *ids: Any) -> str:
    return reverse(f"judging:{name}", args=[show.slug, *ids])


def as_office(show: Show) -> Client:
    client = Client()
    client.force_login(office_of(show))
    return client


def read(show: Show, name: str, *ids: Any, query: str = "") -> str:
    answer = as_office(show).get(at(show, name, *ids) + query)
    assert answer.status_code == 200
    return answer.content.decode()


def bring(show: Show, text: str = "", file: bytes | None = None) -> Any:
    sent: dict[str, Any] = {"do": "import", "import-text": text}
    if file is not None:
        sent["import-file"] = SimpleUploadedFile("card.yaml", file)
    return as_office(show).post(at(show, "card-library"), sent)


def small(**change: Any) -> dict[str, Any]:
    """The small card with its first row changed."""
    data = deepcopy(SCORECARD)
    data["sections"][0]["criteria"][0].update(change)
    return data


# --- Library ---------------------------------------------------------------------------------


def test_the_library_stands_there_and_a_card_is_taken_from_it(show: Show):
    text = read(show, "card-library")
    for card in library_cards().values():
        assert str(card["name"]) in text
    code = next(iter(library_cards()))
    answer = as_office(show).post(at(show, "card-library"), {"do": "take", "card": code})
    taken = Scorecard.objects.get(show=show, in_use=False)
    assert answer["Location"] == at(show, "card", taken.pk)
    assert "A draft" in read(show, "card", taken.pk)
    assert Scorecard.objects.get(show=show, in_use=True) != taken


def test_a_card_the_library_has_not_is_not_found(show: Show):
    sent = {"do": "take", "card": "no_such"}
    assert as_office(show).post(at(show, "card-library"), sent).status_code == 404
    assert as_office(show).post(at(show, "card-library"), {"do": "juggle"}).status_code == 422
    assert Scorecard.objects.filter(show=show).count() == 1


def test_a_steward_reads_and_does_not_write(show: Show):
    client = Client()
    client.force_login(steward_of(show))
    text = client.get(at(show, "card-library")).content.decode()
    assert "Starter library" in text
    assert "Take this card" not in text
    assert "Bring it in" not in text


def test_a_show_without_a_card_says_where_one_comes_from(show: Show):
    Scorecard.objects.filter(show=show).update(in_use=False)
    text = read(show, "scorecard")
    assert "has no scorecard yet" in text
    assert at(show, "card-library") in text


# --- Files -----------------------------------------------------------------------------------


@pytest.mark.parametrize("form", ["yaml", "json"])
def test_what_is_given_out_is_brought_in_again_as_it_was(show: Show, form: str):
    card = Scorecard.objects.get(show=show)
    answer = as_office(show).get(at(show, "card-file", card.pk, form))
    assert answer["Content-Type"] == f"application/{form}; charset=utf-8"
    assert answer["Content-Disposition"].endswith(f'.{form}"')
    assert bring(show, file=answer.content).status_code == 302
    back = Scorecard.objects.get(show=show, in_use=False)
    kept, first = card_data(card_version(show, back.pk)), read_text(answer.content.decode())
    assert isinstance(first, dict)
    assert kept["sections"] == first["sections"]
    assert (kept["name"], kept["version"]) == (first["name"], 2)


def test_a_card_comes_in_two_forms_only(show: Show):
    card = Scorecard.objects.get(show=show)
    assert as_office(show).get(at(show, "card-file", card.pk, "docx")).status_code == 404


def test_pasted_json_is_taken_too(show: Show):
    assert bring(show, json.dumps({**SCORECARD, "name": "Pasted"})).status_code == 302
    assert Scorecard.objects.filter(name="Pasted", in_use=False).exists()


@pytest.mark.parametrize(
    ("row", "place", "sentence"),
    [
        ({"max_mark": -10}, "section 1, row 1, most marks", "More than zero"),
        ({"step": 3}, "section 1, row 1, step", "do not lead to 10"),
        ({"code": "rg_brakes"}, "section 1, row 2, code", "code"),
        ({"applies": {"wheels": ["rubber"]}}, "section 1, row 1, judged on", "no fact"),
        ({"colour": "red"}, "section 1, row 1, colour", "not known here"),
    ],
)
def test_a_fault_is_told_at_its_place_and_nothing_is_kept(
    show: Show, row: dict[str, Any], place: str, sentence: str
):
    answer = bring(show, write_yaml(small(**row)))
    text = answer.content.decode()
    assert answer.status_code == 422
    assert "nothing of it is kept" in text
    found = re.search(rf"<b>{re.escape(place)}</b> <code[^>]*>[^<]+</code>: ([^<]+)", text)
    assert found, text[text.find('id="faults"') :][:800]
    assert sentence in found[1]
    assert Scorecard.objects.filter(show=show).count() == 1


def test_rows_that_stand_in_for_each_other_may_not_meet_on_a_rig(show: Show):
    data = small(one_of="root", applies={"tongue": ["drop"]})
    data["sections"][0]["criteria"][2].update(one_of="root")
    answer = bring(show, write_yaml(data))
    assert answer.status_code == 422
    assert "stands in for" in answer.content.decode() or "one of" in answer.content.decode()


def test_a_card_that_takes_in_a_circle_is_refused_with_the_chain(show: Show, monkeypatch: Any):
    def taking(card: str) -> dict[str, Any]:
        take = {"card": card, "section": "x"}
        return {"code": "a", "name": "A", "sections": [{"take": take}]}

    circle = {"one": taking("two"), "two": taking("one")}
    monkeypatch.setattr("judging.queries.cards.library_cards", lambda: circle)
    answer = bring(show, write_yaml({**taking("one"), "code": "mine"}))
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "one" in text
    assert "two" in text
    assert Scorecard.objects.filter(show=show).count() == 1


BOMB = "a: &a [x, x]\nb: &b [*a, *a, *a]\nc: &c [*b, *b, *b]\nname: [*c, *c]\n"


@pytest.mark.parametrize(
    ("file", "sentence"),
    [
        (BOMB.encode(), "Line 1: anchors"),
        (b"name: !!python/object/apply:os.system [ls]\n", "Line 1: tags"),
        (b"name: x\nname: y\n", "Line 2:"),
        (b"[" * 500, "levels"),
        (b"just words", "mapping"),
        (b"", "Choose a file"),
        (b"\xff\xfe\x00n\x00a", "not UTF-8"),
        ("name: Gearö".encode("latin-1"), "not UTF-8"),
        (b"name: x\x00y\n", "cannot be read"),
        (b"{" + b'"name": "x"' + b"}", "This is missing"),
    ],
)
def test_a_file_that_is_no_card_is_refused_with_the_line(show: Show, file: bytes, sentence: str):
    answer = bring(show, file=file)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert Scorecard.objects.filter(show=show).count() == 1


def test_a_file_or_a_text_but_not_both(show: Show):
    answer = bring(show, text="name: x", file=b"name: y")
    assert answer.status_code == 422
    assert "not both" in answer.content.decode()


def test_a_byte_order_mark_is_no_fault(show: Show):
    text = write_yaml({**SCORECARD, "name": "Marked"})
    assert bring(show, file=b"\xef\xbb\xbf" + text.encode()).status_code == 302


# --- Hostile text and long cards -------------------------------------------------------------

HOSTILE = '<script>alert("x")</script>\' \u202egnp.exe \u05e9\u05dc\u05d5\u05dd'


def hostile_card() -> dict[str, Any]:
    data = small(name=HOSTILE[:78], guidance=HOSTILE + "\n" + "w" * 1500)
    data["name"] = f"Card {HOSTILE}"
    data["notice"] = HOSTILE
    data["sections"][0].update(name=HOSTILE[:78], quick_phrases=["<b>bold</b>"])
    return data


def every_page(show: Show, card: Scorecard) -> list[str]:
    """The addresses of every page that shows the card's own text."""
    section = card.sections.get(code="running_gear")
    row = section.criteria.get(code="rg_wheels")
    own = [show.classes.get(code="trail").pk]
    return [
        at(show, "scorecard"),
        at(show, "card", card.pk),
        at(show, "card-phone", card.pk),
        at(show, "card-use", card.pk),
        at(show, "card-section", card.pk, section.pk),
        at(show, "card-new-row", card.pk, section.pk),
        at(show, "card-row", card.pk, row.pk),
        at(show, "declare", *own),
        reverse("judging:show", args=[show.slug]),
    ]


def test_hostile_text_is_shown_as_text_on_every_page():
    show = build_show(slug="hostile", scorecard=hostile_card())
    card = Scorecard.objects.get(show=show)
    draft = new_version(card=card, by=office_of(show), at=AT)
    client, named = as_office(show), 0
    for address in [*every_page(show, draft), at(show, "card", card.pk)]:
        text = client.get(address).content.decode()
        assert "<script>alert" not in text, address
        assert "<b>bold" not in text, address
        named += "&lt;script&gt;alert" in text
    assert named >= 8
    given = client.get(at(show, "card-file", card.pk, "yaml")).content.decode()
    back = read_text(given)
    assert isinstance(back, dict)
    assert back["name"] == f"Card {HOSTILE}"


def long_card(rows: int) -> dict[str, Any]:
    """A card of twenty sections and many rows, every fourth of them on some rigs."""
    when: dict[str, Any] = {"applies": {"hitch": ["four_up", "six_up"]}}
    sections = [
        {
            "code": f"part_{s}", "name": f"Part {s}", "points": 10, "minutes": 30,
            "criteria": [
                {"code": f"p{s}_r{r}", "name": f"Part {s} row {r}", "max_mark": 10, "step": 1,
                 "guidance": "Look it over from all sides.", **(when if r % 4 == 3 else {})}
                for r in range(rows // 20)
            ],
        }
        for s in range(20)
    ]  # fmt: skip
    return {"name": "Long card", "sections": sections}


def test_a_card_of_2000_rows_is_brought_in_and_its_pages_work(show: Show):
    assert bring(show, write_yaml(long_card(2000))).status_code == 302
    card = Scorecard.objects.get(name="Long card")
    text = read(show, "card", card.pk)
    assert "This card has 2,000 rows. It works" in text
    assert text.count('<details class="card-rows">') == 20, "its sections are folded"
    assert text.count('<tr id="row-') == 2000
    phone = read(show, "card-phone", card.pk)
    assert "left out of this preview" in phone
    use = as_office(show).post(at(show, "card-use", card.pk), {"use-reason": ""})
    assert use.status_code in (302, 409)


@pytest.mark.parametrize("name", ["scorecard", "card", "card-phone", "card-use"])
def test_queries_do_not_grow_with_the_card(show: Show, name: str):
    office = as_office(show)  # Signing in writes by itself, and more the first time.

    def queries(rows: int) -> int:
        data = {**long_card(rows), "name": f"Card of {rows}"}
        card = adopt_scorecard(show=show, data=data, by=office_of(show), at=AT)
        ids = [] if name == "scorecard" else [card.pk]
        with CaptureQueriesContext(connection) as asked:
            assert office.get(at(show, name, *ids)).status_code == 200
        Scorecard.objects.filter(pk=card.pk).delete()
        return len(asked)

    assert queries(40) == queries(400)


# --- On a phone ------------------------------------------------------------------------------


def test_the_phone_shows_the_rows_of_the_rig_chosen(show: Show):
    card = Scorecard.objects.get(show=show)
    query = "?" + "&".join(f"{k}={v}" for k, v in RIGS[3].items())
    text = read(show, "card-phone", card.pk, query=query)
    assert "stiff tongue, team of two" in text
    assert "Brake beam, shoes and rod" in text
    assert "Queen bolt and drop-tongue hounds" not in text
    assert re.findall(r'class="key" disabled>(\w+)<', text)[:11] == [str(n) for n in range(11)]


def test_pass_or_fail_and_places_have_keys_of_their_own(show: Show):
    card = Scorecard.objects.get(show=show)
    card.sections.filter(code="camp_kit").update(form="pass_fail")
    text = read(show, "card-phone", card.pk)
    assert ">Pass</button>" in text
    assert ">Fail</button>" in text
