"""A wagon scratched after its times were published: the judge's phone says so and goes on."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from tests.browser.small_show import SmallShow

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def gate_show(live_show) -> SmallShow:  # type: ignore[no-untyped-def]
    """A small show of its own: a wagon of it leaves."""
    return SmallShow(live_show, "small-gate").prepare()


def test_a_scratched_wagon_is_told_at_the_next_contact_and_its_marks_are_kept(
    phone, gate_show, shoot
):
    phone.pair(gate_show.pairing_link("J1"))
    phone.read_declared()
    first, second, third = phone.entries()
    phone.open_card(first)
    row = phone.rows()[0]
    phone.mark(row, "4")
    phone.expect_waiting(0)

    # Without signal the judge goes on marking; meanwhile the gate scratches the wagon.
    phone.page.route("**/api/v1/device/**", lambda route: route.abort())
    other = phone.rows()[1]
    phone.mark(other, "7")
    gate_show.office.post(f"/entries/{first}/scratch", {"reason": "Lame wheeler."})
    phone.page.unroute("**/api/v1/device/**")
    phone.sync()

    said = phone.page.locator("#scratched")
    expect(said).to_contain_text("This wagon has left the show", timeout=15_000)
    expect(said).to_contain_text("2 marks kept in the record; no result counts them.")
    expect(phone.page.locator(".crit")).to_have_count(0)
    expect(phone.page.locator("#hand-in")).to_have_count(0)
    phone.expect_waiting(0)
    phone.expect_all_taken()
    assert Axe().run(phone.page).response["violations"] == []
    shoot(phone, "scratched-card")

    phone.page.click("#go-on")
    expect(phone.page.locator("#scratched")).to_have_count(0)
    assert phone.page.evaluate("location.hash") == f"#card={second}"
    phone.to_list()
    gone = phone.page.locator(f".visit[data-entry='{first}']")
    expect(gone).to_contain_text("Scratched")
    expect(gone).to_contain_text("2 marks kept")
    expect(phone.page.locator("main")).to_contain_text("0 of 2 handed in, 1 scratched")
    expect(phone.page.locator("a.upnext")).to_have_attribute("href", f"#card={second}")
    assert Axe().run(phone.page).response["violations"] == []
    shoot(phone, "scratched-list")
    marks = phone.server_visit(first)["card"]["marks"]
    assert {code: mark["value"] for code, mark in marks.items()} == {row: "4", other: "7"}
    assert third in phone.entries()
