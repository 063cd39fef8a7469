"""A passkey in a real browser: added after a link, signed in by, removed, and refused then."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import BrowserContext, CDPSession, Page, expect

from tests.live import LiveShow

pytestmark = pytest.mark.browser

EMAIL = "secretary@showrun.example"


@pytest.fixture
def site(live_show: LiveShow) -> str:
    """The service by a name: a browser makes no passkey for a bare number."""
    return live_show.url.replace("127.0.0.1", "localhost")


@pytest.fixture
def page(new_context: Callable[..., BrowserContext]) -> Iterator[Page]:
    """A phone; no script may fail and nothing may break the page's policy."""
    found, faults = new_context().new_page(), []
    found.on("pageerror", lambda fault: faults.append(str(fault)))
    found.on(
        "console",
        lambda line: faults.append(line.text) if "Content Security Policy" in line.text else None,
    )
    yield found
    assert faults == []


@pytest.fixture
def device(page: Page) -> dict[str, Any]:
    """What keeps passkeys on this phone: Chromium's own, with its owner's finger on it."""
    wire: CDPSession = page.context.new_cdp_session(page)
    wire.send("WebAuthn.enable")
    options = {
        "protocol": "ctap2",
        "transport": "internal",
        "hasResidentKey": True,
        "hasUserVerification": True,
        "isUserVerified": True,
        "automaticPresenceSimulation": True,
    }
    made = wire.send("WebAuthn.addVirtualAuthenticator", {"options": options})
    return {"wire": wire, "id": made["authenticatorId"]}


def finger(device: dict[str, Any], *, known: bool) -> None:
    told = {"authenticatorId": device["id"], "isUserVerified": known}
    device["wire"].send("WebAuthn.setUserVerified", told)


def kept_on(device: dict[str, Any]) -> list[dict[str, Any]]:
    told = {"authenticatorId": device["id"]}
    found: list[dict[str, Any]] = device["wire"].send("WebAuthn.getCredentials", told)[
        "credentials"
    ]
    return found


def sign_out(page: Page) -> None:
    page.get_by_role("button", name="Sign out", exact=True).click()
    expect(page.get_by_text("Signed out.")).to_be_visible()


def test_from_a_link_to_a_passkey_and_back(
    live_show: LiveShow, site: str, page: Page, device: dict[str, Any]
) -> None:
    page.goto(live_show.sign_in_link(EMAIL).replace("127.0.0.1", "localhost"))
    page.get_by_role("button", name="Sign in").click()
    page.goto(f"{site}/account/passkeys/")
    expect(page.get_by_text("You have none yet.")).to_be_visible()
    expect(page.get_by_text("This browser makes no passkeys")).to_be_hidden()
    assert Axe().run(page).response["violations"] == []

    page.get_by_label("Name of this device").fill("My phone")
    page.get_by_role("button", name="Add a passkey").click()
    expect(page.get_by_text("My phone is added.")).to_be_visible()
    (kept,) = kept_on(device)
    assert (kept["isResidentCredential"], kept["rpId"]) == (True, "localhost")
    assert Axe().run(page).response["violations"] == []

    # The same device once more: it says so itself, and nothing is sent.
    page.get_by_label("Name of this device").fill("Again")
    page.get_by_role("button", name="Add a passkey").click()
    expect(page.locator("[data-passkey-words]")).to_have_text(
        "This device has a passkey of yours already."
    )

    sign_out(page)
    page.goto(f"{site}/sign-in/?next=/handbook/")
    assert Axe().run(page).response["violations"] == []
    by_passkey = page.get_by_role("button", name="Sign in with a passkey")
    finger(device, known=False)
    by_passkey.click()
    expect(page.locator("[data-passkey-words]")).to_contain_text("No passkey was given.")
    finger(device, known=True)
    by_passkey.click()
    page.wait_for_url(f"{site}/handbook/")
    expect(page.get_by_role("button", name="Sign out", exact=True)).to_be_visible()

    page.goto(f"{site}/account/passkeys/")
    page.get_by_text("Name or remove").click()
    page.get_by_role("button", name="Remove My phone").click()
    expect(page.get_by_text("My phone is removed")).to_be_visible()
    assert len(kept_on(device)) == 1  # the device's own half is its owner's to delete

    sign_out(page)
    page.goto(f"{site}/sign-in/")
    page.get_by_role("button", name="Sign in with a passkey").click()
    expect(page.get_by_role("alert").filter(visible=True)).to_contain_text("did not sign you in")
    expect(page.get_by_label("E-mail address")).to_be_visible()
    expect(page.get_by_role("button", name="Sign out", exact=True)).to_have_count(0)


def test_without_a_script_the_link_is_there_and_no_dead_button(
    site: str, new_context: Callable[..., BrowserContext]
) -> None:
    page = new_context(java_script_enabled=False).new_page()
    page.goto(f"{site}/sign-in/")
    expect(page.get_by_role("button", name="Sign in with a passkey")).to_be_hidden()
    expect(page.get_by_role("button", name="Send me a link")).to_be_visible()
