"""Sections of other forms than points, what is declared, and the practice wagon."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser


def test_a_row_to_pass_or_fail_says_so_everywhere(phone, small_show, shoot):
    phone.pair(small_show.pairing_link("J1"))
    entry = phone.open_number(3)["entry"]["id"]
    row = phone.unfold("bucket")
    assert row.locator(".key").all_inner_texts() == ["Pass", "Fail"]
    row.locator(".guide summary").click()
    expect(row.locator(".effects li")).to_have_count(2)
    phone.mark("bucket", "0")
    expect(phone.row("bucket").locator(".given strong")).to_have_text("Fail")
    expect(phone.row("bucket").locator(".given")).not_to_contain_text("of 1")
    expect(phone.page.locator("#undo")).to_contain_text("Undo Fail, Water bucket full")
    phone.mark("shovel", "1")
    expect(phone.row("shovel").locator(".given strong")).to_have_text("Pass")
    shoot(phone, "pass-fail")
    phone.page.click("#undo")
    expect(phone.row("shovel").locator(".given.none")).to_be_visible()
    phone.state("shovel", "not_inspected")
    phone.expect_waiting(0)
    marks = phone.server_marks(entry)
    assert marks["bucket"] == {"state": "marked", "value": "0"}
    assert marks["shovel"] == {"state": "not_inspected", "value": None}


def test_places_are_given_without_zero_and_one_given_twice_is_warned_about(
    phone, small_show, shoot
):
    phone.pair(small_show.pairing_link("J3"))
    first = phone.open_number(1)["entry"]["id"]
    pad = phone.unfold("story_place").locator(".pad")
    assert pad.locator(".key").all_inner_texts() == ["1", "2", "3"]
    assert pad.locator(".statekey").all_inner_texts() == ["Could not be inspected"]
    phone.mark("story_place", "2")
    expect(phone.row("story_place").locator(".given strong")).to_have_text("Place 2")
    places = phone.page.locator("[data-places='story']")
    expect(places).to_contain_text("Places so far: 1 of 3")
    expect(places.locator(".twice")).to_have_count(0)
    phone.to_list()
    second = phone.open_number(2)["entry"]["id"]
    expect(places.locator("li")).to_have_text(["2 No. 1 Patient Mule"])
    phone.mark("story_place", "2")
    expect(places.locator(".twice")).to_have_text("Place 2 is also given to wagon 1.")
    shoot(phone, "places")
    phone.fill_card()
    phone.page.click("#hand-in")
    expect(phone.page.locator(".handin .twice")).to_have_text(
        "Story of the wagon: Place 2 is also given to wagon 1."
    )
    phone.mark("story_place", "1")
    expect(phone.page.locator(".twice")).to_have_count(0)
    expect(places.locator("li")).to_have_text(["1 No. 2 Nine Biscuit", "2 No. 1 Patient Mule"])
    phone.expect_waiting(0)
    given = {entry: phone.server_marks(entry)["story_place"]["value"] for entry in (first, second)}
    assert given == {first: "2", second: "1"}


def test_what_is_declared_stays_open_until_it_is_read_and_can_be_found_again(phone, small_show):
    phone.pair(small_show.pairing_link("J2"))
    entry = phone.open_number(1)["entry"]["id"]
    # It does not bar the card; one line reminds.
    expect(phone.page.locator("#remind")).to_be_visible()
    row = phone.unfold("wheels")
    row.locator(".guide summary").click()
    assert row.locator(".effects li").all_inner_texts() == [
        "Zero is a mark: the judge looked and gave nothing.",
        "A row that does not apply is left out; its points go to the other rows of its section.",
        "A row that could not be inspected is left out in the same way.",
    ]
    phone.page.click("#remind")
    declared = phone.page.locator("section#declared")
    for words in ("Stop orders come first.", "Trail wagon", "from 1866 to 1895", "Best story"):
        expect(declared).to_contain_text(words)
    phone.page.context.set_offline(True)
    phone.read_declared()
    phone.reload()
    expect(declared).to_have_count(0)
    folded = phone.page.locator("details#declared")
    folded.locator("summary").click()
    expect(folded).to_contain_text("from 1866 to 1895")
    phone.open_card(entry)
    expect(phone.page.locator("#remind")).to_have_count(0)
    assert phone.kept() == []


def test_the_practice_wagon_stands_apart_and_is_not_counted(phone, small_show):
    phone.pair(small_show.pairing_link("J4"))
    practice = phone.page.locator("#practice .visit")
    expect(practice).to_have_count(1)
    expect(practice).to_contain_text("Old Freighter")
    up_next = phone.page.locator(".upnext .name").inner_text()
    assert up_next != "Old Freighter"
    assert len(phone.entries()) == 3
    expect(phone.page.get_by_text("of 3 handed in")).to_be_visible()
    practice.click()
    head = phone.page.locator("header.wagon")
    expect(head).to_contain_text("Practice: never counted.")
    expect(head.locator("progress")).to_have_count(0)
    assert "story_place" not in phone.rows()
    phone.mark("wheels", "3")
    phone.expect_waiting(0)
    phone.to_list()
    expect(practice).to_contain_text("In work")
    expect(phone.page.locator(".upnext .name")).to_have_text(up_next)
    (visit,) = (v for v in phone.server_round()["visits"] if v["practice"])
    assert visit["card"]["marks"] == {"wheels": {"state": "marked", "value": "3"}}
