"""Every page in light and dark, on a desk, on a phone and enlarged: nothing bars anybody."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from showrun.project.house_style.tokens import PAIRS, THEMES, measured, tokens_of
from tests.browser.by_axe import COLOURS, IN_SUN, load, wrong_colours, wrong_otherwise
from tests.browser.every_page import LEFT_OUT, EveryPage, lookers, pages
from tests.warm_show import WarmShow

pytestmark = pytest.mark.browser

DESK = {"width": 1280, "height": 900}
# A desk's 1280 px at 200 % and at 400 % (WCAG 2.2, 1.4.4 and 1.4.10), and last a phone.
WIDTHS = (640, 320, 390)
WIDER = """() => {
    const width = document.documentElement.clientWidth;
    if (document.documentElement.scrollWidth <= width) return [];
    return [...document.querySelectorAll('body *')]
        .filter(one => one.getBoundingClientRect().right > width + .5)
        .slice(-3).map(one => one.outerHTML.slice(0, 120));
}"""
MOVES = """() => [...document.querySelectorAll('*')]
    .filter(one => {
        const style = getComputedStyle(one);
        const lasts = (style.transitionDuration + ',' + style.animationDuration).split(',');
        return style.scrollBehavior === 'smooth' || lasts.some(time => parseFloat(time) > 0);
    })
    .slice(0, 3).map(one => one.outerHTML.slice(0, 120))"""


@pytest.fixture(scope="module")
def every(own_service: WarmShow, browser: Browser) -> Iterator[EveryPage]:
    found = EveryPage.prepare(own_service, browser)
    yield found
    found.close()


def what_is_wrong(page: Page) -> list[str]:
    """Everything that is wrong with the page that is open, in every theme and width."""
    wrong = [f"moves: {one}" for one in page.evaluate(MOVES)]
    page.emulate_media(color_scheme="dark")
    page.set_viewport_size(DESK)  # type: ignore[arg-type]
    wrong += [f"dark, {one}" for one in wrong_colours(page)]
    page.emulate_media(color_scheme="light")
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 844})
        wrong += [f"wider than {width} px: {one}" for one in page.evaluate(WIDER)]
    here = [*wrong_colours(page), *wrong_otherwise(page)]
    return wrong + [f"light on a phone, {one}" for one in here]


@pytest.mark.parametrize("row", pages(), ids=lambda row: row.route)
def test_a_page_bars_nobody_in_any_theme_or_width(every: EveryPage, row: Any):
    found: dict[str, list[str]] = {}
    for who in lookers(row):
        if every.is_page(who, row.route):
            page = every.tab(who)
            page.goto(every.live.url + every.addresses[row.route])
            found[who] = what_is_wrong(page)
    assert {who: wrong for who, wrong in found.items() if wrong} == {}


@pytest.mark.parametrize("theme", THEMES)
def test_the_house_style_stands_out_in_every_theme(every: EveryPage, theme: str):
    page = every.tab("nobody")
    page.goto(f"{every.live.url}/house-style/?theme={theme}")
    ink = page.evaluate("getComputedStyle(document.body).getPropertyValue('--ink').trim()")
    assert ink == tokens_of(theme)["ink"]
    load(page)
    assert wrong_colours(page, IN_SUN if theme == "sun" else COLOURS) == []
    # A rule written by others, for what our own says of each pair.
    for pair in PAIRS:
        ours = measured(pair, theme)
        theirs = page.evaluate(
            """([front, ground]) => {
                const colour = new axe.commons.color.Color(), under = new axe.commons.color.Color();
                colour.parseString(front);
                under.parseString(ground);
                return axe.commons.color.getContrast(under, colour);
            }""",
            [ours.front, ours.ground],
        )
        assert theirs == pytest.approx(ours.ratio, abs=1e-6)


def test_what_is_left_out_is_there_and_most_addresses_are_pages(every: EveryPage):
    routes = {row.route for row in pages()}
    assert not routes & LEFT_OUT.keys()
    looked_at = [
        row.route for row in pages() if any(every.is_page(who, row.route) for who in lookers(row))
    ]
    assert len(looked_at) > 75
