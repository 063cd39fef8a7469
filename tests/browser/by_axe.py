"""What axe, the rules of others for pages that bar nobody, says of the page that is open.

Whether words stand out is what axe takes longest to say, and it says it of each piece of text. Text
of one colour and size, on grounds of the same colours, stands out alike: one of each is asked for.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

AXE = Axe()
# What can differ between light and dark. The enhanced rule is that of words read in full sun.
COLOURS = ("color-contrast", "link-in-text-block")
IN_SUN = (*COLOURS, "color-contrast-enhanced")
# All else of WCAG 2.2 AA and axe's own advice, with the rule it leaves off by itself.
REST = {"target-size": {"enabled": True}, **{rule: {"enabled": False} for rule in COLOURS}}

ONE_OF_EACH = """() => {
    const seen = new Set(), fields = 'input, select, textarea';
    const isText = kid => kid.nodeType === Node.TEXT_NODE && kid.data.trim();
    const worded = one => one.matches(fields) || [...one.childNodes].some(isText);
    return [...document.querySelectorAll('body *')].filter(one => {
        if (!worded(one) || !one.checkVisibility()) return false;
        const own = getComputedStyle(one), looks = [own.fontSize, own.fontWeight, one.matches('a')];
        for (let at = one; at; at = at.parentElement) {
            const { color, backgroundColor, backgroundImage, opacity } = getComputedStyle(at);
            looks.push(color, backgroundColor, backgroundImage, opacity);
        }
        const look = looks.join();
        return !seen.has(look) && seen.add(look);
    });
}"""
RUN = f"""async ([options, few]) => {{
    const where = few ? {{ include: ({ONE_OF_EACH})() }} : document;
    if (few && !where.include.length) return [];
    const {{ violations }} = await axe.run(where, {{ resultTypes: ['violations'], ...options }});
    return violations.flatMap(({{ id, nodes }}) =>
        nodes.map(({{ target, html }}) => [id, String(target[0]), html]));
}}"""
SHOWN = 3  # of each rule
TO_THE_MIDDLE = "at => document.querySelector(at)?.scrollIntoView({ block: 'center' })"


def wrong_colours(page: Page, rules: Sequence[str] = COLOURS) -> list[str]:
    """Return what does not stand out, as the page is now."""
    return _run(page, {"runOnly": list(rules)}, few=True)


def wrong_otherwise(page: Page) -> list[str]:
    """Return what else is wrong with the page, by every rule that is not of colours."""
    return _run(page, {"rules": REST}, few=False)


def wrong_targets(page: Page) -> list[str]:
    """Return what is too small or too close to tap, which alone differs between screens."""
    return _run(page, {"runOnly": ["target-size"]}, few=False)


def load(page: Page) -> None:
    """Bring axe to the page; a page that has it keeps it until another is opened."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE.axe_script)


def _run(page: Page, options: dict[str, Any], *, few: bool) -> list[str]:
    load(page)
    found = page.evaluate(RUN, [options, few])
    wrong: dict[str, list[str]] = {}
    for rule, at, html in found:
        of_rule = wrong.setdefault(rule, [])
        if len(of_rule) < SHOWN and _stays(page, [options, few], rule, at):
            of_rule.append(f"{rule}: {html[:160]}")
    return [one for of_rule in wrong.values() for one in of_rule]


def _stays(page: Page, asked: list[Any], rule: str, at: str) -> bool:
    """Whether it is wrong in the middle of the screen, too: what scrolls may lie under a bar."""
    page.evaluate(TO_THE_MIDDLE, at)
    return any(one[:2] == [rule, at] for one in page.evaluate(RUN, asked))
