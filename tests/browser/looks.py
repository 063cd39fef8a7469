"""One walk of the page, looked at as several judges have chosen: theme, hand and screen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from tests.browser.by_axe import (
    COLOURS,
    IN_SUN,
    wrong_colours,
    wrong_otherwise,
    wrong_targets,
)
from tests.browser.round_page import Look, RoundPage

TOUCH_PX = 48
# In one go: asked for one by one, the targets of a card take a long time, and between finding and
# measuring them the page may be drawn again.
MEASURE = """() => [...document.querySelectorAll('button, a, summary, input, select')]
    .filter(one => one.type !== 'radio' && one.checkVisibility({ visibilityProperty: true }))
    .map(one => [one.innerText, one.getBoundingClientRect()])
    .filter(([, { width, height }]) => width && height)
    .map(([words, { width, height }]) => [words, width, height])"""


@dataclass
class Walk:
    """Where a walk came to, and what was wrong there in each look."""

    phone: RoundPage
    looks: list[Look]
    shoot: Callable[[RoundPage, str], None]
    targets: bool = False
    found: dict[str, list[str]] = field(default_factory=dict)

    def look_at(self, place: str) -> None:
        """Look at the page as it is now in every look; what is wrong is told at the end."""
        for n, look in enumerate(self.looks):
            self.phone.wear(look)
            # Words read in full sun have 7 to 1; elsewhere 4.5 to 1 is asked.
            wrong = wrong_colours(self.phone.page, IN_SUN if look.theme == "sunlight" else COLOURS)
            # What is neither of colours nor of the screen's size is the same in every look.
            wrong += wrong_targets(self.phone.page) if n else wrong_otherwise(self.phone.page)
            if self.targets:
                wrong += [f"too small: {words}" for words, *_ in small_targets(self.phone)]
            wide = self.phone.page.evaluate("document.documentElement.scrollWidth")
            wrong += [f"too wide: {wide}"] if wide > look.width else []
            self.found[f"{place}: {look}"] = wrong
            self.shoot(self.phone, f"{place}-{look.theme}")

    def demand_nothing_wrong(self) -> None:
        """Nothing was wrong at any place, and a page opened anew has the look chosen last."""
        wrong = {place: found for place, found in self.found.items() if found}
        assert not wrong, wrong
        self.phone.reload()
        self.phone.expect_worn(self.looks[-1])


def small_targets(phone: RoundPage) -> list[tuple[str, float, float]]:
    """Measure everything on the page that can be tapped; return what is too small for a thumb."""
    measured = phone.page.evaluate(MEASURE)
    assert measured
    return [one for one in measured if min(one[1:]) < TOUCH_PX - 0.5]


def check_targets(phone: RoundPage) -> None:
    """Everything on the page that can be tapped is large enough."""
    small = small_targets(phone)
    assert small == [], small
