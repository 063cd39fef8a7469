"""A new version of the page waits until it can do no harm."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.relay import relayed
from tests.browser.round_page import RoundPage

pytestmark = pytest.mark.browser

EVENTS = "**/api/v1/device/events"
# Just after the signal is back a look may fail; whoever looks again finds it, or says so in time.
LOOK_FOR_UPDATE = """async () => {
    const found = await navigator.serviceWorker.getRegistration('/round/');
    for (const until = Date.now() + 30000; !found.waiting;) {
        if (Date.now() > until) throw new Error('no new version came');
        await found.update().catch(() => undefined);
        await new Promise(go => setTimeout(go, 50));
    }
}"""
HALF_AN_UPDATE = """async () => {
    const found = await navigator.serviceWorker.getRegistration('/round/');
    let ended = '';
    found.addEventListener('updatefound', () => {
        const coming = found.installing;
        coming.addEventListener('statechange', () => {
            if (['installed', 'redundant'].includes(coming.state)) ended = coming.state;
        });
    });
    for (const until = Date.now() + 30000; !ended && Date.now() < until;) {
        await found.update().catch(() => undefined);
        await new Promise(go => setTimeout(go, 50));
    }
    return ended;
}"""
CACHES = "caches.keys()"
# What a phone kept that fetched its round from the service before it knew of rigs and forms.
AS_BEFORE = """async () => {
    const { outbox } = await import('/static/judging/offline/page.js');
    const device = await outbox.fact('active');
    while (!(await outbox.eventsOf(device)).every(one => one.in_bundle)) {
        await new Promise(go => setTimeout(go, 50));
    }
    const { bundle } = await outbox.bundleOf(device);
    for (const key of ['rig_facts', 'handbook', 'policies_by_class']) delete bundle[key];
    delete bundle.card.notice;
    for (const section of bundle.card.sections) {
        delete section.form;
        delete section.all_or_nothing;
        for (const row of section.criteria) delete row.parts;
    }
    for (const visit of bundle.visits) {
        delete visit.practice;
        delete visit.rig_report;
        delete visit.entry.rig_entered;
        for (const key of ['hash', 'aside', 'earlier']) delete visit.card[key];
    }
    await outbox.keepBundle(device, { etag: '"kept before"', bundle: { ...bundle, schema: 1 } });
}"""


def empty_entry(phone: RoundPage) -> int:
    """Return the first wagon whose card is empty."""
    visits = phone.server_round()["visits"]
    return int(next(v["entry"]["id"] for v in visits if not v["card"]["marks"]))


def test_update_is_offered_only_when_no_card_is_open_and_all_is_sent(new_context, live_show):
    with relayed(live_show.url) as relay:
        phone = RoundPage(new_context().new_page(), relay.url)
        phone.pair(live_show.pairing_link("abara"))
        before = phone.page.evaluate(CACHES)
        phone.reload()
        entry = empty_entry(phone)
        phone.page.route(EVENTS, lambda route: route.abort())
        phone.open_card(entry)
        row = phone.rows()[0]
        phone.mark(row, "7")
        relay.version = "feedfacefeedface"
        phone.page.evaluate(LOOK_FOR_UPDATE)
        expect(phone.page.locator("#update")).to_have_count(0)
        phone.to_list()
        expect(phone.page.locator(".note").first).to_contain_text("once everything is sent")
        expect(phone.page.locator("#update")).to_have_count(0)
        # The old version still opens, with its queue.
        phone.reload()
        phone.expect_waiting(1)
        phone.page.unroute(EVENTS)
        phone.sync()
        phone.expect_waiting(0)
        with phone.page.expect_navigation():
            phone.page.click("#update")
        phone.ready()
        assert before != ["round-feedfacefeedface"]
        assert phone.page.evaluate(CACHES) == ["round-feedfacefeedface"]
        phone.open_card(entry)
        phone.expect_mark(row, "7")


def test_a_round_kept_before_an_update_opens_with_its_marks_until_a_new_one_comes(phone, live_show):
    phone.pair(live_show.pairing_link("yazzie"))
    entry = empty_entry(phone)
    phone.open_card(entry)
    rows = phone.rows()
    phone.mark(rows[0], "7")
    phone.expect_waiting(0)
    page = phone.page
    with page.expect_response("**/api/v1/device/round"):
        phone.sync()
    page.context.set_offline(True)
    phone.expect_mark(rows[0], "7")
    page.evaluate(AS_BEFORE)
    phone.reload()
    assert phone.rows() == rows
    phone.expect_mark(rows[0], "7")
    phone.mark(rows[1], "6")
    # The facts of a rig are not known to that round, so they cannot be chosen yet.
    expect(page.locator("#rig-different")).to_have_count(0)
    page.context.set_offline(False)
    phone.sync()
    expect(page.locator("#rig-different")).to_be_visible(timeout=20_000)
    phone.expect_waiting(0)
    phone.expect_mark(rows[0], "7")
    assert {row: mark["value"] for row, mark in phone.server_marks(entry).items()} == {
        rows[0]: "7",
        rows[1]: "6",
    }


def test_a_version_that_comes_while_offline_or_only_half_leaves_the_old_one_whole(
    new_context, live_show
):
    with relayed(live_show.url) as relay:
        phone = RoundPage(new_context().new_page(), relay.url)
        phone.pair(live_show.pairing_link("villasenor"))
        entry, before = empty_entry(phone), phone.page.evaluate(CACHES)
        phone.page.context.set_offline(True)
        relay.version = "feedfacefeedface"
        phone.reload()
        phone.open_card(entry)
        rows = phone.rows()
        phone.mark(rows[0], "7")
        # Back, but the signal is gone again before the last file of the new version is there.
        relay.broken = "/static/judging/offline/round.css"
        phone.page.context.set_offline(False)
        phone.sync()
        phone.expect_waiting(0)
        assert phone.page.evaluate(HALF_AN_UPDATE) == "redundant"
        phone.page.context.set_offline(True)
        phone.reload()
        phone.expect_mark(rows[0], "7")
        phone.mark(rows[1], "6")
        # Whole at last: it is offered, taken, and has every mark.
        relay.broken = ""
        phone.page.context.set_offline(False)
        phone.sync()
        phone.expect_waiting(0)
        phone.to_list()
        phone.page.evaluate(LOOK_FOR_UPDATE)
        with phone.page.expect_navigation():
            phone.page.click("#update")
        phone.ready()
        assert before != phone.page.evaluate(CACHES) == ["round-feedfacefeedface"]
        phone.open_card(entry)
        phone.expect_mark(rows[0], "7")
        phone.expect_mark(rows[1], "6")
        assert phone.faults == []
