"""The office adopts the rig a judge found, or leaves it as it was entered."""

from __future__ import annotations

import pytest

from judging.actions.settle_rig import adopt_rig, decline_rig
from judging.models import Card, CardMark, RigReport
from judging.models.card import EMPTY
from judging.queries.rigs import open_rig_reports, rig_reports
from showrun.errors import Conflict, InvalidInput
from showrun.shows.models import AuditEntry
from tests.judged_show import (
    AT,
    build_show,
    card_events,
    draw_panel,
    entry_of,
    hand_in,
    judge_of,
    mark,
    office_of,
    pair,
    rows_of,
    send,
)
from tests.remembered import remembered
from tests.round_events import rig_found
from tests.small_card import RIGS

pytestmark = pytest.mark.django_db

DROP = RIGS[0]
STIFF = {**DROP, "tongue": "stiff"}
FOUR_UP = {**DROP, "hitch": "four_up"}
State = RigReport.State


@pytest.fixture
@remembered
def show():
    """Three judges who all sit at every section of wagon 1: drop tongue, team of two."""
    show = build_show(n_judges=3, judges_per_section=3, n_entries=2, kin=False)
    draw_panel(show)
    return show


@pytest.fixture
def entry(show):
    return entry_of(show, 1)


@pytest.fixture
def phones(show):
    return {code: pair(judge_of(show, code))[0] for code in ("J1", "J2", "J3")}


@pytest.fixture
def office(show):
    return office_of(show)


def aside(show, code="J1"):
    kept = CardMark.objects.filter(card__judge=judge_of(show, code), aside=True)
    kept = kept.exclude(state=EMPTY)
    return set(kept.values_list("criterion__code", flat=True))


def card_of(show, code):
    return Card.objects.get(judge=judge_of(show, code), entry__number=1)


def report_of(show, code):
    return RigReport.objects.filter(judge=judge_of(show, code)).latest("seq")


def test_adopted_every_judges_card_goes_by_the_new_rig(show, entry, phones, office):
    send(phones["J1"], [mark(entry, "rg_queen_bolt", 5), rig_found(entry, STIFF)])
    send(phones["J2"], card_events(judge_of(show, "J2"), entry, 6))
    report = adopt_rig(report=report_of(show, "J1"), note="", by=office, at=AT)
    entry.refresh_from_db()
    assert entry.rig.facts() == STIFF
    assert (report.state, report.settled_at, report.settled_by) == (State.ADOPTED, AT, office)
    assert card_of(show, "J1").rig is None
    assert aside(show, "J1") == aside(show, "J2") == {"rg_queen_bolt"}
    # A card that has all rows of the new rig stays handed in.
    assert card_of(show, "J2").handed_in_at == AT


def test_adopted_a_card_handed_in_that_lacks_rows_is_opened_again_and_the_record_says_so(
    show, entry, phones, office
):
    send(phones["J1"], [rig_found(entry, FOUR_UP)])
    events = card_events(judge_of(show, "J2"), entry, 6)
    send(phones["J2"], events)
    adopt_rig(report=report_of(show, "J1"), note="Four in hand.", by=office, at=AT)
    opened = card_of(show, "J2")
    assert (opened.handed_in_at, opened.handed_in_device, opened.handed_in_seq) == (None,) * 3
    line = AuditEntry.objects.get(verb="adopted a rig")
    assert (line.actor, line.reason, line.subject) == (
        office,
        "Four in hand.",
        "the rig of wagon 1. Patient Mule",
    )
    assert line.before == {"rig": DROP}
    assert line.after == {
        "rig": FOUR_UP,
        "found_by": ["Chidi Abara (J1)"],
        "marks_set_aside": 0,
        "marks_taken_back": 0,
        "cards_opened_again": ["Ingrid Lindqvist (J2)"],
    }
    # The judge marks what the new rig adds, and hands in anew.
    send(phones["J2"], [mark(entry, "hn_leaders", 7)])
    assert card_of(show, "J2").handed_in_at is None
    send(phones["J2"], [hand_in(entry)])
    assert card_of(show, "J2").handed_in_at == AT


def test_adopted_the_same_found_by_others_is_adopted_with_it_and_another_stays_open(
    show, entry, phones, office
):
    for code, found in (("J1", STIFF), ("J2", STIFF), ("J3", FOUR_UP)):
        send(phones[code], [mark(entry, "rg_queen_bolt", 5), rig_found(entry, found)])
    adopt_rig(report=report_of(show, "J1"), note="Seen.", by=office, at=AT)
    states = {code: report_of(show, code).state for code in phones}
    assert states == {"J1": State.ADOPTED, "J2": State.ADOPTED, "J3": State.OPEN}
    assert report_of(show, "J2").settled_note == "Seen."
    assert card_of(show, "J2").rig is None
    # J3 saw four horses and a drop tongue; that card goes by it until it is settled too.
    assert card_of(show, "J3").rig == FOUR_UP
    assert aside(show, "J3") == set()
    assert [report.judge.code for report in open_rig_reports(show)] == ["J3"]
    assert {report.judge.code for report in rig_reports(show)} == {"J1", "J2", "J3"}


def test_a_mark_made_by_the_old_rig_and_sent_after_it_was_changed_is_kept_aside(
    show, entry, phones, office
):
    send(phones["J1"], [rig_found(entry, STIFF)])
    adopt_rig(report=report_of(show, "J1"), note="", by=office, at=AT)
    (late,) = send(phones["J2"], [mark(entry, "rg_queen_bolt", 5)])
    assert late.status == "applied"
    assert aside(show, "J2") == {"rg_queen_bolt"}


def test_declined_the_card_goes_back_and_is_opened_again_where_it_lacks_rows(
    show, entry, phones, office
):
    found = {**STIFF, "hitch": "four_up"}
    rows = [row.code for row in rows_of(judge_of(show, "J1"), entry)]
    marks = [mark(entry, code, 6) for code in rows if code != "rg_queen_bolt"]
    send(phones["J1"], [*marks, rig_found(entry, found), mark(entry, "hn_leaders", 6)])
    send(phones["J1"], [hand_in(entry)])
    assert card_of(show, "J1").handed_in_at == AT
    assert aside(show) == set()
    report = decline_rig(report=report_of(show, "J1"), note="It drops.", by=office, at=AT)
    assert (report.state, report.settled_note) == (State.DECLINED, "It drops.")
    back = card_of(show, "J1")
    assert (back.rig, back.handed_in_at) == (None, None)
    assert aside(show) == {"hn_leaders"}
    line = AuditEntry.objects.get(verb="declined a rig")
    assert line.reason == "It drops."
    assert line.before["rig"] == found
    assert line.after["rig"] == DROP
    assert line.after["cards_opened_again"] == ["Chidi Abara (J1)"]
    assert line.after["marks_set_aside"] == 1
    entry.refresh_from_db()
    assert entry.rig.facts() == DROP


def test_declined_the_other_judges_cards_stay_as_they_are(show, entry, phones, office):
    for code in ("J1", "J2"):
        send(phones[code], [mark(entry, "rg_queen_bolt", 5), rig_found(entry, STIFF)])
    decline_rig(report=report_of(show, "J1"), note="It drops.", by=office, at=AT)
    assert (card_of(show, "J1").rig, aside(show, "J1")) == (None, set())
    assert (card_of(show, "J2").rig, aside(show, "J2")) == (STIFF, {"rg_queen_bolt"})
    assert report_of(show, "J2").state == State.OPEN


def test_declining_needs_a_note_and_nothing_is_settled_twice(show, entry, phones, office):
    send(phones["J1"], [rig_found(entry, STIFF)])
    report = report_of(show, "J1")
    with pytest.raises(InvalidInput) as refused:
        decline_rig(report=report, note="  ", by=office, at=AT)
    assert set(refused.value.fields) == {"note"}
    assert report_of(show, "J1").state == State.OPEN
    decline_rig(report=report, note="It drops.", by=office, at=AT)
    for settle in (adopt_rig, decline_rig):
        with pytest.raises(Conflict) as settled:
            settle(report=report, note="Again.", by=office, at=AT)
        assert settled.value.code == "rig-settled"
    assert AuditEntry.objects.filter(subject__startswith="the rig of").count() == 1


def test_a_report_that_was_replaced_cannot_be_settled(show, entry, phones, office):
    send(phones["J1"], [rig_found(entry, STIFF)])
    earlier = report_of(show, "J1")
    send(phones["J1"], [rig_found(entry, DROP)])
    with pytest.raises(Conflict, match="the judge reported again"):
        adopt_rig(report=earlier, note="", by=office, at=AT)
    entry.refresh_from_db()
    assert entry.rig.facts() == DROP
    assert rig_reports(show) == [earlier]
