"""A phone is lost with marks on it; another goes on at once, and nothing is doubled or dropped."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.browser.round_page import RoundPage

pytestmark = pytest.mark.browser


@pytest.fixture
def new_phone(new_context: Callable[..., BrowserContext], live_show: Any) -> Iterator[RoundPage]:
    """A second phone with nothing on it."""
    other = RoundPage(new_context().new_page(), live_show.url)
    yield other
    assert other.faults == []


@pytest.fixture
def office(new_context: Callable[..., BrowserContext], live_show: Any) -> Page:
    """The secretary at the page of judges."""
    page = new_context(viewport={"width": 1280, "height": 900}, is_mobile=False).new_page()
    page.goto(live_show.sign_in_link("secretary@showrun.example"))
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()
    return page


def held(live_show: Any, code: str) -> list[dict[str, Any]]:
    """What waits for the office for this reason."""
    standing = live_show.office.api(f"/shows/{live_show.slug}/progress")
    return [one for one in standing["held"] if one["code"] == code]


def test_a_lost_phone_is_replaced_and_what_it_sends_later_is_kept_aside(
    phone: RoundPage,
    new_phone: RoundPage,
    office: Page,
    live_show: Any,
    shoot: Callable[[RoundPage, str], None],
) -> None:
    judge = next(iter(live_show.judges()))
    phone.pair(live_show.pairing_link(judge))
    visits = phone.server_round()["visits"]
    entry = next(one["entry"]["id"] for one in visits if not one["card"]["marks"])
    phone.open_card(entry)
    first, second, third, fourth = phone.rows()[:4]
    phone.mark(first, "7")
    phone.expect_waiting(0)
    phone.page.context.set_offline(True)
    phone.mark(second, "3")
    phone.mark(third, "4")
    phone.expect_waiting(2)

    device = phone.device()["id"]
    office.goto(f"{live_show.url}/shows/{live_show.slug}/office/judges/#phones")
    row = office.locator(f"#phone-{device}")
    row.locator("summary", has_text="Lost phone").click()
    expect(row.get_by_label("Reason").first).to_have_value("lost")
    row.get_by_role("button", name="Shut out and show the code").click()
    expect(office.locator("svg[role=img]")).to_be_visible()
    code = office.locator("h1 code").inner_text()
    assert re.fullmatch(r"\w{4}-\w{4}", code)

    new_phone.pair(f"#pair={code}")
    new_phone.open_card(entry)
    new_phone.expect_mark(first, "7")
    expect(new_phone.row(second).locator(".given.none")).to_be_visible()
    new_phone.mark(second, "8")
    new_phone.mark(fourth, "6")
    new_phone.expect_waiting(0)
    shoot(new_phone, "lost-phone-replaced")
    expected = {
        row: {"state": "marked", "value": value}
        for row, value in ((first, "7"), (second, "8"), (fourth, "6"))
    }
    assert new_phone.server_marks(entry) == expected

    phone.page.context.set_offline(False)
    phone.sync()
    for _ in range(100):
        if len(aside := held(live_show, "device-shut-out")) >= 2:
            break
        phone.page.wait_for_timeout(100)
    assert len(aside) == 2
    # Asked to send again, it adds nothing.
    phone.sync()
    new_phone.sync()
    new_phone.page.wait_for_timeout(500)
    assert [one["id"] for one in held(live_show, "device-shut-out")] == [one["id"] for one in aside]
    assert new_phone.server_marks(entry) == expected

    office.goto(f"{live_show.url}/shows/{live_show.slug}/office/judges/#phones")
    gone = office.locator(f"#phone-{device}")
    expect(gone).to_contain_text("shut out")
    gone.get_by_role("link", name="2 touches kept aside").click()
    for one in aside:
        expect(office.locator(f"#event-{one['id']}")).to_be_visible()


def test_the_next_phone_of_a_judge_corrects_what_the_first_marked(
    phone: RoundPage,
    new_phone: RoundPage,
    office: Page,
    live_show: Any,
    shoot: Callable[[RoundPage, str], None],
) -> None:
    """As on a phone where the installed page starts empty and is paired by a code of its own."""
    phone.pair(live_show.pairing_link("villasenor"))
    visits = phone.server_round()["visits"]
    entry = next(one["entry"]["id"] for one in visits if not one["card"]["marks"])
    phone.open_card(entry)
    first, second = phone.rows()[:2]
    phone.mark(first, "7")
    phone.expect_waiting(0)

    office.goto(f"{live_show.url}/shows/{live_show.slug}/office/judges/")
    row = office.locator("#judges tr", has_text="(villasenor)")
    expect(row.get_by_label(re.compile("Takes the place of"))).to_be_checked()
    shoot(RoundPage(office, live_show.url), "office-judges")
    row.get_by_role("button", name="Make code").click()
    expect(office.locator("main")).to_contain_text("Once a phone is paired with this code")
    shoot(RoundPage(office, live_show.url), "office-code")
    held_before = held(live_show, "other-device")
    new_phone.pair(f"#pair={office.locator('h1 code').inner_text()}")
    new_phone.open_card(entry)
    new_phone.unfold(first)
    new_phone.mark(first, "8")
    new_phone.expect_waiting(0)
    assert new_phone.server_marks(entry)[first]["value"] == "8"
    assert held(live_show, "other-device") == held_before

    # What the first still sends waits for the office, which is told why.
    phone.mark(second, "3")
    expect(phone.page.locator("#again")).to_contain_text("The office has shut this phone out")
    assert "villasenor" in {one["judge"] for one in held(live_show, "device-shut-out")}
    assert second not in new_phone.server_marks(entry)
