"""A judge who reads Spanish: chosen on the phone, at once, and with no signal."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from tests.browser.looks import Walk
from tests.browser.round_page import Look, RoundPage

pytestmark = pytest.mark.browser

# Small words without which hardly an English sentence gets by, and that are no Spanish ones.
ENGLISH = re.compile(
    r"\b(the|of|and|is|are|was|this|that|with|your|you|not|to|for|at|it|from|by|row|rows|mark|marks"
    r"|card|wagon|office|phone|left|sent|saved|next|time|here|hand)\b",
    re.IGNORECASE,
)
# What is read and heard: text, and what stands in its place; the show's own words are marked.
SAID = """() => {
    const own = new Set();
    for (const one of document.querySelectorAll('[lang=en]')) own.add(one.textContent.trim());
    const said = [document.title];
    const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walk.nextNode()) {
        const marked = walk.currentNode.parentElement.closest('[lang]').lang;
        const unseen = walk.currentNode.parentElement.closest('noscript, script');
        if (marked !== 'en' && !unseen) said.push(walk.currentNode.data);
    }
    for (const one of document.querySelectorAll('[aria-label], [placeholder], [alt]')) {
        for (const name of ['aria-label', 'placeholder', 'alt']) {
            let words = one.closest('[lang=en]') ? '' : one.getAttribute(name) ?? '';
            for (const name of own) if (name) words = words.replaceAll(name, '');
            said.push(words);
        }
    }
    for (const name of own) if (name) said[0] = said[0].replaceAll(name, '');
    return said.map((words) => words.trim()).filter(Boolean);
}"""
LOOKS = [
    Look("light", width=320),
    Look("sunlight", width=390),
    Look("dark", "left", width=320),
]
# Words that are wider than the button they stand on.
SPILLED = """() => [...document.querySelectorAll('button, a, summary, label')]
    .filter((one) => one.checkVisibility() && one.scrollWidth > one.clientWidth + 1
        && getComputedStyle(one).display !== 'inline'
        && getComputedStyle(one).overflowX === 'visible')
    .map((one) => `${one.id || one.className}: ${one.innerText}`)"""


def demand_spanish(phone: RoundPage) -> None:
    """Nothing is said in English but what the show wrote."""
    said = phone.page.evaluate(SAID)
    assert len(said) > 5
    assert [words for words in said if ENGLISH.search(words)] == []


class SpanishWalk(Walk):
    """A walk on which every word is Spanish and none is wider than its button."""

    def look_at(self, place: str) -> None:
        """Look at the words too; how wide they are differs by screen."""
        demand_spanish(self.phone)
        super().look_at(place)
        for look in self.looks:
            self.phone.wear(look)
            spilled = self.phone.page.evaluate(SPILLED)
            self.found[f"{place}: {look}"] += [f"spilled: {words}" for words in spilled]


def test_a_whole_day_in_spanish_with_no_signal(phone, small_show, shoot):
    page = phone.page
    walk = SpanishWalk(phone, LOOKS, shoot, targets=True)
    phone.open()
    expect(page.locator("html")).to_have_attribute("lang", "en")
    phone.pair(small_show.pairing_link("J2"))
    phone.to_phone()
    page.click("#language-es")
    expect(page.locator("html")).to_have_attribute("lang", "es")
    expect(page.locator("#phone-title")).to_have_text("Este teléfono")
    page.click("a.back")
    # What the server says follows by itself.
    expect(page.locator("#declared")).to_contain_text("Cero es una calificación")
    page.context.set_offline(True)
    phone.reload()
    walk.look_at("es-list")
    phone.read_declared()

    entry = phone.entries()[0]
    phone.open_card(entry)
    expect(page.locator("#rig-different")).to_have_text("El aparejo es distinto")
    first = phone.rows()[0]
    phone.unfold(first)
    page.locator(f"#guide-{first} summary").click()
    walk.look_at("es-card")
    expect(phone.row(first).locator("[data-state=not_applicable]")).to_have_text("No aplica")

    phone.choose_rig(tongue="stiff")
    walk.look_at("es-rig")
    page.get_by_role("button", name="Cancelar").click()

    page.locator("header .worry").click()
    page.get_by_text("Arreglar antes de mover", exact=True).click()
    page.fill("#concern-text", "Rueda floja")
    walk.look_at("es-concern")
    page.get_by_role("button", name="Dar el aviso").click()
    expect(page.locator(".concern")).to_contain_text("Todavía no está en la oficina")

    phone.fill_card("1")
    walk.look_at("es-full")
    expect(page.locator(".remark summary").first).to_have_text("Observación sobre running gear")
    page.click("#hand-in")
    walk.look_at("es-hand-in")
    page.click("#sign")
    expect(page.locator(".handed")).to_contain_text("Tarjeta entregada")
    assert phone.waiting() > 0
    expect(page.locator("#sync")).to_contain_text("sin enviar")
    phone.to_phone()
    walk.look_at("es-phone")

    page.context.set_offline(False)
    phone.sync()
    phone.expect_waiting(0)
    expect(page.locator(f".same[data-entry='{entry}']")).to_contain_text("todo enviado e igual")
    demand_spanish(phone)
    page.click("text=Vincular con otro código")
    walk.look_at("es-pair")
    walk.demand_nothing_wrong()


def test_the_language_is_the_phones_until_the_judge_chooses(new_context, live_show):
    phone = RoundPage(new_context(locale="es-MX").new_page(), live_show.url)
    phone.open()
    expect(phone.page.locator("html")).to_have_attribute("lang", "es")
    expect(phone.page.locator("#pair-title")).to_have_text("Recorrido del juez")
    phone.type_code("ABC")
    expect(phone.page.locator("#pair-fault")).to_have_text("Un código tiene ocho letras y números.")
    demand_spanish(phone)
    phone.pair(live_show.pairing_link("abara"))
    phone.to_phone()
    phone.page.click("#language-en")
    phone.reload()
    expect(phone.page.locator("html")).to_have_attribute("lang", "en")
    expect(phone.page.locator("#phone-title")).to_have_text("This phone")
    assert phone.page.locator("[lang=es]").count() == 1  # the button that says so
    assert phone.faults == []
