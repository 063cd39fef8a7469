"""A touch goes out at once while there is signal, whatever the page is asking just then."""

from __future__ import annotations

import pytest
from playwright.sync_api import Route

pytestmark = pytest.mark.browser


def test_a_touch_made_while_the_phone_still_asks_is_sent_soon(phone, signing_show):
    phone.pair(signing_show.pairing_link("J4"))  # whose cards no other test hands in
    phone.open_card(phone.entries()[0])
    phone.sync()
    phone.expect_all_taken()
    held: list[Route] = []

    def hold(route: Route) -> None:
        if held:
            route.continue_()
        else:
            held.append(route)

    phone.page.route("**/api/v1/device/round", hold)
    phone.sync()
    for _ in range(100):
        if held:
            break
        phone.page.wait_for_timeout(100)
    phone.mark(phone.rows()[0], "3")
    held[0].continue_()
    phone.expect_waiting(0)
