"""What the pages are looked at with sees what is wrong, on a page made to be wrong."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page

from tests.browser.by_axe import IN_SUN, RUN, load, wrong_colours, wrong_otherwise, wrong_targets

pytestmark = pytest.mark.browser

# Of these greys on white, the darker has 5.7 to 1, the lighter 2.3 (WCAG 2.2, 1.4.3 asks for 4.5).
DARKER, LIGHTER = "#666", "#aaa"


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    found = browser.new_page()
    yield found
    found.close()


def put(page: Page, inside: str) -> None:
    page.set_content(
        f"<html lang=en><title>A page</title><main><h1>A page</h1>{inside}</main></html>"
    )


def of(rule: str, found: list[str]) -> int:
    return sum(one.startswith(f"{rule}:") for one in found)


def test_words_that_do_not_stand_out_are_found_among_many_that_do(page: Page):
    plain = f"<p style='color:{DARKER}'>Words</p>" * 50
    put(page, plain)
    assert wrong_colours(page) == []
    put(page, f"{plain}<p style='color:{LIGHTER}'>Words</p>")
    assert of("color-contrast", wrong_colours(page)) == 1


@pytest.mark.parametrize(
    "inside",
    [
        f"<div style='background:#333'><p style='color:{DARKER}'>Words</p></div>",
        f"<div style='opacity:.4'><p style='color:{DARKER}'>Words</p></div>",
        f"<label>Name <input value=Words style='color:{LIGHTER}'></label>",
    ],
)
def test_the_same_colour_on_another_ground_or_in_a_field_is_asked_for_too(page: Page, inside: str):
    put(page, f"<p style='color:{DARKER}'>Words</p>{inside}")
    assert of("color-contrast", wrong_colours(page)) == 1


def test_a_link_that_is_told_by_its_colour_alone_is_found(page: Page):
    link = "<a href='#x' style='color:#555;text-decoration:none'>a page</a>"
    put(page, f"<p id=x style='color:{DARKER}'>Words that lead to {link} and go on.</p>")
    assert of("link-in-text-block", wrong_colours(page)) == 1


def test_in_full_sun_more_is_asked_for(page: Page):
    put(page, f"<p style='color:{DARKER}'>Words</p>")
    assert of("color-contrast-enhanced", wrong_colours(page, IN_SUN)) == 1


def test_what_is_wrong_otherwise_is_found(page: Page):
    small = "<a href='#a' style='display:inline-block;height:9px;width:9px'>x</a>"
    put(page, f"<div id=a><img src=''><input></div>{small}{small}")
    rules = {one.partition(":")[0] for one in wrong_otherwise(page)}
    assert {"image-alt", "label", "target-size"} <= rules
    assert {one.partition(":")[0] for one in wrong_targets(page)} == {"target-size"}


def test_a_target_half_under_another_is_wrong_only_if_it_cannot_be_scrolled_from_there(page: Page):
    key = "<button style='display:block;height:56px;width:99px'>Key</button>"
    bar = "<a href='#' style='display:block;position:sticky;top:0;z-index:1;height:40px'>Bar</a>"
    far = "<div style='height:3000px'></div>"
    put(page, f"{bar}{far}{key}{far}")
    load(page)
    page.evaluate("scrollTo(0, document.querySelector('button').offsetTop)")
    assert page.evaluate(RUN, [{"runOnly": ["target-size"]}, False])
    assert wrong_targets(page) == []
    put(page, f"{bar}<div style='margin-top:-40px'>{key}</div>")
    assert of("target-size", wrong_targets(page)) == 1
