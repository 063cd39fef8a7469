"""Two of the office settle one rig, and phones send, all at the same moment."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from typing import Any

import pytest

from judging.actions.record_events import record_events
from judging.actions.settle_rig import adopt_rig, decline_rig
from judging.models import Card, CardMark, RigReport
from judging.queries.rigs import card_facts
from judging.rules.cards.condition import applies
from showrun.errors import Conflict
from showrun.shows.models import AuditEntry
from tests.judged_show import (
    AT,
    build_show,
    card_events,
    draw_panel,
    entry_of,
    judge_of,
    office_of,
    pair,
    send,
)
from tests.round_events import rig_found
from tests.services.test_race import at_once, locking  # noqa: F401  fixture

pytestmark = pytest.mark.django_db(transaction=True)


def test_two_of_the_office_settle_one_rig_once_while_phones_send():
    show = build_show(n_judges=3, judges_per_section=3, n_entries=1, kin=False)
    draw_panel(show)
    entry, office = entry_of(show, 1), office_of(show)
    found = {**entry.rig.facts(), "tongue": "stiff", "hitch": "four_up"}
    send(pair(judge_of(show, "J1"))[0], [rig_found(entry, found)])
    report = RigReport.objects.get()

    def settle(verb: Callable[..., Any]) -> Callable[[], str]:
        def deed() -> str:
            try:
                verb(report=report, note="Looked.", by=office, at=AT)
            except Conflict as refused:
                return refused.code
            return "settled"

        return deed

    def sender(code: str) -> Callable[[], str]:
        judge = judge_of(show, code)
        phone = pair(judge)[0]
        events = [
            {"id": f"00000000-0000-4000-8000-{judge.pk:06}{seq:06}", "seq": seq, **event}
            for seq, event in enumerate(card_events(judge, entry, 6), start=1)
        ]

        def deed() -> str:
            outcomes, _ = record_events(device=phone, events=events, at=AT)
            return "sent" if all(one.code in ("", "rows-missing") for one in outcomes) else "lost"

        return deed

    came = Counter(at_once([settle(adopt_rig), settle(decline_rig), sender("J2"), sender("J3")]))
    assert came == {"settled": 1, "rig-settled": 1, "sent": 2}
    assert AuditEntry.objects.filter(subject="the rig of wagon 1. Patient Mule").count() == 1
    report.refresh_from_db()
    entry.refresh_from_db()
    adopted = report.state == RigReport.State.ADOPTED
    assert (entry.rig.facts() == found) == adopted
    # Whoever came first, every mark lies where the rig of its card puts it.
    assert not Card.objects.filter(rig__isnull=False).exists()
    marks = CardMark.objects.select_related("card", "criterion")
    assert marks.count() == 16
    for mark in marks:
        on_card = applies(mark.criterion.applies, card_facts(mark.card, entry))
        assert mark.aside != on_card, mark
    handed_in = Card.objects.filter(handed_in_at__isnull=False).count()
    assert handed_in == (0 if adopted else 2)
