"""Whatever people type stays text on the pages where it is shown."""

from __future__ import annotations

from html.parser import HTMLParser

import pytest
from django.test import Client
from django.urls import reverse

from entries.models import Entry
from judging.actions.settle_rig import decline_rig
from judging.models import ClassCard, Criterion, RigReport, SafetyConcern, Section
from showrun.shows.models import Person, Show
from tests.judged_show import (
    AT,
    build_show,
    concern,
    draw_panel,
    entry_of,
    judge_of,
    mark,
    office_of,
    pair,
    send,
)
from tests.round_events import rig_found

pytestmark = pytest.mark.django_db

SCRIPT = '<script>alert("1")</script><img src="https://evil.example/x.png" onerror=go()>'
HOSTILE = {
    "markup": SCRIPT,
    "quotes": "\"Aunt's\" & 'Sons' <b>bold</b> &amp; &lt; ' onmouseover=go()",
    "template": "{{ 7|add:7 }} {% include 'x' %} {# gone #} ${7+7}",
    "accents": "Señor Björn Łukaszewicz-Dvořák, Ántonia ŒŘŽ ß",
    "right_to_left": "עגלת \u202e<b>האוכל</b>",
    "one_word": "W" * 300,
}


OTHER_RIG = {
    "tongue": "drop", "hitch": "six_up", "draft": "chain", "pattern": "military",
    "holdback": "side_backer",
}  # fmt: skip


class Read(HTMLParser):
    """A page as a browser takes it: its texts, and what on it is not ours."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.texts: list[str] = []
        self.made: list[str] = []
        self.feed(page)

    def handle_data(self, data: str) -> None:
        self.texts.append(data)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        ours = all(not name.startswith("on") for name, _ in attrs)
        if tag in ("script", "img", "b"):
            ours = ours and str(dict(attrs).get("src")).startswith("/static/")
        if not ours:
            self.made.append(str(self.get_starttag_text()))


def filled(words: str) -> Show:
    """A show in which everything somebody may type says this."""
    show = build_show(n_entries=2, n_judges=2, kin=False)
    draw_panel(show)
    Section.objects.update(name=words[:80])
    Criterion.objects.update(name=words[:80], guidance=words)
    ClassCard.objects.update(policy_note=words)
    Person.objects.update(name=words[:120])
    Entry.objects.update(wagon_name=words[:80], outfit=words[:80], history=words)
    first, second = entry_of(show, 1), entry_of(show, 2)
    phone, _ = pair(judge_of(show), label=words[:80])
    found = {**first.rig.facts(), "tongue": "stiff"}
    send(phone, [concern(first, "stop", words, "hn_lines"), concern(first, "note", words)])
    # Two rigs, one of them settled; an event that is held; a concern that cannot be filed.
    send(phone, [rig_found(first, found, words), rig_found(second, OTHER_RIG, words)])
    send(phone, [mark(first, "ck_fire", 11), concern(first, "mend", words, words[:80])])
    report = RigReport.objects.get(entry=second)
    decline_rig(report=report, note=words, by=office_of(show), at=AT)
    return show


@pytest.mark.parametrize("words", HOSTILE.values(), ids=list(HOSTILE))
def test_words_of_all_kinds_stay_words(client: Client, words: str) -> None:
    show = filled(words)
    client.force_login(office_of(show))
    pages = {
        "progress": reverse("judging:progress", args=[show.slug]),
        "alerts": reverse("judging:alerts", args=[show.slug]),
        "start": reverse("reports:office", args=[show.slug]),
        "entry": reverse("reports:my-entry", args=[entry_of(show, 2).pk]),
    }
    kept = SafetyConcern.objects.filter(degree="stop").get().text
    for name, address in pages.items():
        page = Read(client.get(address).content.decode())
        assert kept in "".join(page.texts), name
        assert page.made == [], name
