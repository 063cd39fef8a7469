"""A judge finds another rig at the wagon: the card re-forms, and no mark is lost by it."""

from __future__ import annotations

from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from judging.actions.pair_device import shut_out_device
from judging.actions.record_events import record_events
from judging.actions.settle_rig import decline_rig
from judging.models import Card, CardMark, RigReport, RoundEvent
from judging.queries.rigs import latest_reports
from tests.judged_show import (
    AT,
    add_entries,
    build_show,
    card_events,
    clear,
    concern,
    draw_panel,
    entry_of,
    hand_in,
    judge_of,
    mark,
    office_of,
    pair,
    send,
)
from tests.round_events import rig_found
from tests.small_card import RIGS, SCORECARD

pytestmark = pytest.mark.django_db

DROP = RIGS[0]
STIFF = {**DROP, "tongue": "stiff"}
FOUR_UP = {**DROP, "hitch": "four_up"}
ROWS = [row["code"] for section in SCORECARD["sections"] for row in section["criteria"]]
OPEN, REPLACED = RigReport.State.OPEN, RigReport.State.REPLACED


@pytest.fixture
def judge():
    """J1, who sits at every section of every wagon; entry 1 has a drop tongue and a team of two."""
    show = build_show(n_judges=2, n_entries=2, kin=False)
    draw_panel(show)
    return judge_of(show, "J1")


@pytest.fixture
def entry(judge):
    return entry_of(judge.show, 1)


@pytest.fixture
def phone(judge):
    return pair(judge)[0]


def stamped(*events):
    return [{"id": str(uuid4()), "seq": seq, **event} for seq, event in enumerate(events, start=1)]


def take(device, *events):
    """Send a batch as it is; return what became of each event, and the cards told back."""
    outcomes, desk = record_events(device=device, events=events, at=AT)
    return [(one.status, one.code) for one in outcomes], desk.open


def kept(judge, entry):
    """The card's rig, its marks that count, and those kept aside."""
    card = Card.objects.get(judge=judge, entry=entry)
    marks = CardMark.objects.filter(card=card).exclude(state="empty").select_related("criterion")
    counting = {m.criterion.code: m.value for m in marks if not m.aside}
    return card.rig, counting, {m.criterion.code: m.value for m in marks if m.aside}


def states(judge):
    reports = RigReport.objects.filter(judge=judge).order_by("seq")
    return [(report.seq, report.state) for report in reports]


def test_the_card_re_forms_and_marks_on_rows_that_vanish_are_kept_aside(judge, entry, phone):
    done, opened = take(
        phone,
        *stamped(
            mark(entry, "rg_wheels", 7),
            mark(entry, "rg_queen_bolt", 5),
            rig_found(entry, STIFF, "tongue is bolted"),
        ),
    )
    assert done == [("applied", "")] * 3
    assert kept(judge, entry) == (STIFF, {"rg_wheels": 7}, {"rg_queen_bolt": 5})
    told = opened[entry.pk]
    assert list(told.values()) == ["rg_wheels"]
    assert "rg_queen_bolt" not in told.lacking()
    (report,) = RigReport.objects.all()
    assert (report.judge, report.entry, report.device) == (judge, entry, phone)
    assert (report.facts, report.entered, report.state) == (STIFF, DROP, OPEN)
    assert (report.text, report.reported_at) == ("tongue is bolted", AT)
    entry.refresh_from_db()
    assert entry.tongue == "drop"


def test_only_this_judges_card_goes_by_it(judge, entry, phone):
    other = judge_of(judge.show, "J2")
    send(pair(other)[0], [mark(entry, "rg_queen_bolt", 4)])
    take(phone, *stamped(rig_found(entry, STIFF)))
    assert kept(other, entry) == (None, {"rg_queen_bolt": 4}, {})


def test_as_entered_after_all_brings_the_marks_back_and_leaves_nothing_open(judge, entry, phone):
    take(phone, *stamped(mark(entry, "rg_queen_bolt", 5), rig_found(entry, STIFF)))
    report = latest_reports(judge).get(entry.pk)
    assert report is not None and report.facts == STIFF
    _, opened = take(phone, {"id": str(uuid4()), "seq": 9, **rig_found(entry, DROP)})
    assert kept(judge, entry) == (None, {"rg_queen_bolt": 5}, {})
    assert list(opened[entry.pk].values()) == ["rg_queen_bolt"]
    assert states(judge) == [(2, REPLACED), (9, REPLACED)]
    assert latest_reports(judge).get(entry.pk) is None
    # SQL has no rig here, not the word null in JSON.
    assert Card.objects.filter(rig__isnull=True).count() == 1


def test_reported_again_only_the_last_report_is_open(judge, entry, phone):
    events = stamped(rig_found(entry, STIFF), rig_found(entry, FOUR_UP))
    for event in events:
        take(phone, event)
    assert states(judge) == [(1, REPLACED), (2, OPEN)]
    assert kept(judge, entry)[0] == FOUR_UP


def test_a_report_that_arrives_after_a_later_one_changes_nothing(judge, entry, phone):
    first, last = stamped(rig_found(entry, STIFF), rig_found(entry, FOUR_UP))
    assert take(phone, last)[0] == [("applied", "")]
    assert take(phone, first)[0] == [("applied", "")]
    assert states(judge) == [(1, REPLACED), (2, OPEN)]
    assert kept(judge, entry)[0] == FOUR_UP


def test_a_mark_that_overtakes_its_rig_is_held_and_then_takes_effect(judge, entry, phone):
    report, leaders = stamped(rig_found(entry, FOUR_UP), mark(entry, "hn_leaders", 6))
    assert take(phone, leaders)[0] == [("held", "criterion-not-on-rig")]
    assert take(phone, report)[0] == [("applied", "")]
    assert kept(judge, entry) == (FOUR_UP, {"hn_leaders": 6}, {})
    row = RoundEvent.objects.get(pk=leaders["id"])
    assert (row.applied, row.reason_code, row.reason) == (True, "", "")
    assert take(phone, leaders, report)[0] == [("duplicate", "")] * 2


def test_a_held_mark_the_office_has_settled_is_not_weighed_again(judge, entry, phone):
    report, leaders = stamped(rig_found(entry, FOUR_UP), mark(entry, "hn_leaders", 6))
    take(phone, leaders)
    RoundEvent.objects.filter(pk=leaders["id"]).update(settled_at=AT)
    take(phone, report)
    assert kept(judge, entry) == (FOUR_UP, {}, {})
    assert not RoundEvent.objects.get(pk=leaders["id"]).applied


def test_a_mark_made_before_the_rig_was_reported_is_kept_aside_however_late(judge, entry, phone):
    bolt, report = stamped(mark(entry, "rg_queen_bolt", 5), rig_found(entry, STIFF))
    take(phone, report)
    assert take(phone, bolt)[0] == [("applied", "")]
    assert kept(judge, entry) == (STIFF, {}, {"rg_queen_bolt": 5})


def test_a_mark_made_between_two_reports_is_kept_aside_however_late(judge, entry, phone):
    first, leaders, last = stamped(
        rig_found(entry, FOUR_UP), mark(entry, "hn_leaders", 6), rig_found(entry, DROP)
    )
    take(phone, last)
    assert take(phone, leaders)[0] == [("held", "criterion-not-on-rig")]
    take(phone, first)
    assert kept(judge, entry) == (None, {}, {"hn_leaders": 6})


def test_a_mark_on_a_row_no_rig_had_stays_held(judge, entry, phone):
    leaders, report = stamped(mark(entry, "hn_leaders", 6), rig_found(entry, FOUR_UP))
    take(phone, report)
    assert take(phone, leaders)[0] == [("held", "criterion-not-on-rig")]
    assert kept(judge, entry) == (FOUR_UP, {}, {})


def test_a_mark_set_aside_can_be_taken_back(judge, entry, phone):
    take(phone, *stamped(mark(entry, "rg_queen_bolt", 5), rig_found(entry, STIFF)))
    send(phone, [clear(entry, "rg_queen_bolt"), rig_found(entry, DROP)])
    assert kept(judge, entry) == (None, {}, {})


def test_the_card_is_handed_in_by_the_rows_of_the_rig_found(judge, entry, phone):
    rows = [code for code in ROWS if code not in ("rg_queen_bolt", "hn_leaders")]
    marks = [mark(entry, code, 6) for code in rows]
    send(phone, [*marks, hand_in(entry)])
    assert Card.objects.get().handed_in_at is None
    seq = RoundEvent.objects.get(kind="hand_in").seq
    # The hand-in waits for the queen bolt, until the judge says that there is none.
    take(phone, {"id": str(uuid4()), "seq": seq + 1, **rig_found(entry, STIFF)})
    assert Card.objects.get().handed_in_at == AT


def test_after_the_hand_in_a_rig_is_held_for_the_office(judge, entry, phone):
    send(phone, card_events(judge, entry, 6))
    (held,) = send(phone, [rig_found(entry, STIFF)])
    assert (held.status, held.code) == ("held", "card-handed-in")
    assert not RigReport.objects.exists()
    assert Card.objects.get().rig is None


def test_a_rig_reported_before_the_hand_in_counts_and_lets_it_wait_for_the_new_rows(
    judge, entry, phone
):
    report, leaders, *rest = stamped(
        rig_found(entry, FOUR_UP), mark(entry, "hn_leaders", 6), *card_events(judge, entry, 6)
    )
    take(phone, *rest)
    assert Card.objects.get().handed_in_at == AT
    assert take(phone, report)[0] == [("applied", "")]
    assert Card.objects.get().handed_in_at is None
    waiting = RoundEvent.objects.get(kind="hand_in")
    assert (waiting.applied, waiting.reason_code) == (False, "rows-missing")
    take(phone, leaders)
    assert Card.objects.get().handed_in_at == AT
    assert not RoundEvent.objects.filter(applied=False).exists()


@pytest.mark.parametrize(
    ("facts", "says"),
    [
        ({"tongue": "stiff"}, "Hitch: team of two or four-up or six-up, please."),
        ({**DROP, "tongue": "bent"}, "Tongue: drop tongue or stiff tongue, please."),
        ({**DROP, "wheels": "rubber"}, "A rig has no fact “wheels”"),
        ({**DROP, "hitch": ["team"]}, "Hitch: team of two or four-up or six-up, please."),
    ],
)
def test_a_rig_that_cannot_be_read_is_held_and_changes_nothing(judge, entry, phone, facts, says):
    (held,) = send(phone, [rig_found(entry, facts)])
    assert (held.status, held.code) == ("held", "unreadable")
    assert says in held.reason
    assert not Card.objects.exists()
    assert not RigReport.objects.exists()


def test_the_rig_of_an_entry_where_the_judge_does_not_sit_is_held(judge):
    show = judge.show
    kin = build_show(slug="other-ground", n_judges=2, n_entries=1, kin=False)
    draw_panel(kin)
    (held,) = send(pair(judge)[0], [rig_found(entry_of(kin, 1), STIFF)])
    assert (held.status, held.code) == ("held", "not-your-card")
    assert not RigReport.objects.exists()
    assert show != kin


def test_the_same_report_once_more_counts_once(judge, entry, phone):
    (report,) = stamped(rig_found(entry, STIFF))
    assert take(phone, report)[0] == [("applied", "")]
    assert take(phone, report, report)[0] == [("duplicate", "")] * 2
    assert states(judge) == [(1, OPEN)]


def test_a_second_phone_with_the_same_rig_changes_nothing_and_with_another_is_held(
    judge, entry, phone
):
    spare = pair(judge, label="spare")[0]
    send(phone, [rig_found(entry, FOUR_UP)])
    (same,) = send(spare, [rig_found(entry, FOUR_UP)])
    (other,) = send(spare, [rig_found(entry, STIFF)])
    assert (same.status, other.status, other.code) == ("applied", "held", "other-device")
    assert states(judge) == [(1, OPEN)]
    assert kept(judge, entry)[0] == FOUR_UP
    # What the first phone reported is on the second one's card too.
    (leaders,) = send(spare, [mark(entry, "hn_leaders", 6)])
    assert leaders.status == "applied"
    shut_out_device(device=phone, by=None, at=AT, reason="lost")
    (again,) = send(spare, [rig_found(entry, STIFF)])
    assert again.status == "applied"
    assert kept(judge, entry) == (STIFF, {}, {"hn_leaders": 6})


def test_after_the_office_declined_the_judge_may_mark_as_entered_and_report_again(
    judge, entry, phone
):
    send(phone, [rig_found(entry, STIFF), mark(entry, "rg_wheels", 7)])
    office = office_of(judge.show)
    decline_rig(report=RigReport.objects.get(), note="Looked: it drops.", by=office, at=AT)
    (bolt,) = send(phone, [mark(entry, "rg_queen_bolt", 5)])
    assert bolt.status == "applied"
    assert kept(judge, entry) == (None, {"rg_wheels": 7, "rg_queen_bolt": 5}, {})
    send(phone, [rig_found(entry, STIFF, "it does not")])
    assert kept(judge, entry) == (STIFF, {"rg_wheels": 7}, {"rg_queen_bolt": 5})
    assert [state for _, state in states(judge)] == [RigReport.State.DECLINED, OPEN]


def test_a_phone_is_told_again_of_cards_the_office_or_another_phone_gave_another_rig(
    judge, entry, phone
):
    other = entry_of(judge.show, 2)
    send(phone, [mark(entry, "rg_queen_bolt", 5), rig_found(entry, STIFF)])
    assert set(take(phone, *stamped(mark(other, "rg_wheels", 7)))[1]) == {other.pk}
    office = office_of(judge.show)
    decline_rig(report=RigReport.objects.get(), note="Looked: it drops.", by=office, at=AT)
    _, opened = take(phone, {"id": str(uuid4()), "seq": 90, **mark(other, "rg_wheels", 8)})
    assert list(opened[entry.pk].values()) == ["rg_queen_bolt"]


def test_a_safety_concern_names_a_row_whatever_the_rig(judge, entry, phone):
    send(phone, [rig_found(entry, STIFF)])
    (raised,) = send(phone, [concern(entry, "mend", "worn", "rg_queen_bolt")])
    assert raised.status == "applied"


def test_a_batch_takes_the_same_statements_for_many_rigs_as_for_one(judge, phone):
    add_entries(judge.show, 2)
    draw_panel(judge.show)
    entries = [entry_of(judge.show, number) for number in (1, 2, 3, 4)]
    entries = [entry for entry in entries if entry.holdback == "pole_strap"]
    assert len(entries) == 3
    send(phone, [mark(entry, "hn_pole_straps", 3) for entry in entries])

    def asked(*wagons):
        touches = [
            (
                rig_found(entry, {**entry.rig.facts(), "pattern": "military"}),
                rig_found(entry, {**entry.rig.facts(), "holdback": "side_backer"}),
                mark(entry, "rg_wheels", 5),
            )
            for entry in wagons
        ]
        with CaptureQueriesContext(connection) as queries:
            outcomes = send(phone, [touch for found in touches for touch in found])
        assert {one.status for one in outcomes} == {"applied"}
        assert {kept(judge, entry)[2]["hn_pole_straps"] for entry in wagons} == {3}
        return len(queries)

    assert asked(*entries[:1]) == asked(*entries[1:])
