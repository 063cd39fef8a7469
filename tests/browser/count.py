"""Counts touches: what a judge was shown as saved against what the database has."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from playwright.sync_api import BrowserContext

from judging.rules.cards.scorecard import Mark, MarkState
from tests.browser.kept_show import Field, KeptEvent

Touch = tuple[int, str, str]  # entry, row, what is given

# Tells of every tick the moment it is on the screen, whatever the test is doing.
WATCH = """
new MutationObserver(() => {
    const entry = Number(new URLSearchParams(location.hash.slice(1)).get('card'));
    for (const given of document.querySelectorAll('.crit .given[data-mark]')) {
        if (!given.querySelector('.tick')) continue;
        const row = given.closest('.crit').dataset.row;
        const told = JSON.stringify([entry, row, given.dataset.mark]);
        window.toldTicks ??= new Set();
        if (window.toldTicks.has(told)) continue;
        window.toldTicks.add(told);
        window.tellTick(told);
    }
}).observe(document, { childList: true, subtree: true });
"""


@dataclass
class Count:
    """What was tapped on one judge's phones, what showed a tick, and what the database has.

    No test taps the same value on the same row twice, so a touch is known by what it gives.
    """

    show: Field
    judge: str
    tapped: list[Touch] = field(default_factory=list)
    ticked: set[Touch] = field(default_factory=set)

    def watch(self, context: BrowserContext) -> None:
        """Note every tick that any page of the context shows."""
        context.expose_binding("tellTick", lambda _, told: self.ticked.add(tuple(json.loads(told))))
        context.add_init_script(WATCH)

    def events(self) -> list[KeptEvent]:
        """The marks among the judge's events."""
        return [one for one in self.show.events(self.judge) if one.kind == "mark"]

    def demand_each_once(self) -> None:
        """Every touch with a tick is there once, every touch there was tapped, none is half."""
        every = self.show.events(self.judge)
        assert not [one for one in every if not one.applied]
        self._demand_counts(every)
        events = [one for one in every if one.kind == "mark"]
        there = Counter(map(touch_of, events))
        assert {touch: there[touch] for touch in self.ticked} == dict.fromkeys(self.ticked, 1)
        assert there.keys() <= set(self.tapped)
        assert set(there.values()) <= {1}
        # By the phone's own count the last touch of a row stands, given by that very event.
        last = {(e.body["entry"], e.body["criterion"]): e for e in events}
        stands = self.show.marks(self.judge)
        assert Counter((m.entry, m.criterion) for m in stands) == Counter(last.keys())
        for one in stands:
            event = last[one.entry, one.criterion]
            given = Mark(MarkState(event.body["state"]), Decimal(event.body["value"]))
            assert (one.mark, one.event) == (given, event.id)

    @staticmethod
    def _demand_counts(every: list[KeptEvent]) -> None:
        """Each phone's count has no gap and no number twice."""
        by_phone: dict[int, list[int]] = {}
        for one in every:
            by_phone.setdefault(one.device, []).append(one.seq)
        for seqs in by_phone.values():
            assert seqs == list(range(1, len(seqs) + 1))


def touch_of(event: KeptEvent) -> Touch:
    """What an event of a mark gives."""
    body: dict[str, Any] = event.body
    return (body["entry"], body["criterion"], body["value"])
