"""A spot is moved on the plan, with the mouse and with the keys, and saved by the form."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from tests.browser.small_show import SmallShow

pytestmark = pytest.mark.browser

# What is typed on the page is a place's feet; a spot of the small show is this wide [ft].
WIDTH_FT = 50


@pytest.fixture
def camp(new_context, small_camp) -> Iterator[Page]:  # type: ignore[no-untyped-def]
    """The camp page of the office, at a tablet's size."""
    page = new_context(
        viewport={"width": 1100, "height": 900}, has_touch=False, is_mobile=False
    ).new_page()
    faults: list[str] = []
    page.on("pageerror", lambda fault: faults.append(str(fault)))
    page.on("console", lambda line: faults.append(line.text) if "Policy" in line.text else None)
    page.goto(small_camp.live.sign_in_link(f"secretary.{small_camp.slug}@showrun.example"))
    page.locator("main button[type=submit]").click()
    page.goto(f"{small_camp.live.url}/shows/{small_camp.slug}/office/camp/")
    expect(page.locator("[data-camp-hint]")).to_be_visible()
    yield page
    assert faults == []


@pytest.fixture(scope="module")
def small_camp(live_show) -> SmallShow:  # type: ignore[no-untyped-def]
    """A small show of its own, for its spots are moved."""
    return SmallShow(live_show, "small-camp").prepare()


def place(page: Page, spot: int) -> tuple[float, float]:
    row = page.locator(f"tr[data-row='{spot}']")
    return (
        float(row.locator("input[name$='-x_ft']:not([type=hidden])").input_value()),
        float(row.locator("input[name$='-y_ft']:not([type=hidden])").input_value()),
    )


def test_a_spot_is_dragged_stepped_and_saved(camp: Page):
    shape = camp.locator("[data-spot='2']")
    shape.scroll_into_view_if_needed()
    x, y = place(camp, 2)
    drawn = camp.locator("[data-spot='2'] rect").bounding_box()
    assert drawn
    feet = WIDTH_FT / drawn["width"]
    camp.mouse.move(drawn["x"] + drawn["width"] / 2, drawn["y"] + drawn["height"] / 2)
    camp.mouse.down()
    camp.mouse.move(
        drawn["x"] + drawn["width"] / 2 + 20 / feet,
        drawn["y"] + drawn["height"] / 2 - 30 / feet,
        steps=4,
    )
    camp.mouse.up()
    moved = place(camp, 2)
    # East to the right, north upward; a foot or two as the pixels fall.
    assert moved[0] == pytest.approx(x + 20, abs=2)
    assert moved[1] == pytest.approx(y + 30, abs=2)
    expect(camp.locator("[data-camp-unsaved]")).to_have_text("Not saved yet.")
    after = camp.locator("[data-spot='2'] rect").bounding_box()
    assert after and after["x"] - drawn["x"] == pytest.approx(20 / feet, abs=3 / feet)

    # With the keys, another spot: five feet a press, one foot with Shift.
    third = place(camp, 3)
    camp.locator("[data-spot='3']").focus()
    for key in ("ArrowRight", "ArrowUp", "Shift+ArrowUp", "Shift+ArrowLeft"):
        camp.keyboard.press(key)
    assert place(camp, 3) == (third[0] + 4, third[1] + 6)
    expect(camp.locator("[data-camp-said]")).to_contain_text("Spot 3: x ")
    assert Axe().run(camp).response["violations"] == []

    camp.get_by_role("button", name="Save spots").click()
    expect(camp.locator("main")).to_contain_text("2 spots changed.")
    assert (place(camp, 2), place(camp, 3)) == (moved, (third[0] + 4, third[1] + 6))
    expect(camp.locator(".camp-spot.moved")).to_have_count(0)
