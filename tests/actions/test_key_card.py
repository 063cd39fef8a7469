"""Two people key a paper card; what they agree on counts once, beside what a phone sent."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from entries.models import Entry
from judging.actions.key_card import (
    Choice,
    issue_cards,
    key_card,
    look_at,
    start_over,
    take_card,
)
from judging.actions.version_scorecard import new_version, use_scorecard
from judging.models import (
    Card,
    CardMark,
    Device,
    KeyedRow,
    Keying,
    PaperCard,
    Remark,
    RoundEvent,
    SafetyConcern,
    Scorecard,
)
from judging.queries.devices import device_by_token
from judging.queries.keyings import card_lines, keyed_from_paper
from judging.queries.panel import judges_of, judges_with_phones
from judging.queries.progress import progress_of
from judging.queries.visit_times import visit_times
from judging.rules.round.keying import State
from showrun.errors import Conflict, InvalidInput, NotFound
from showrun.shows.models import AuditEntry
from tests.judged_show import (
    AT,
    build_show,
    draw_panel,
    hand_in,
    judge_of,
    mark,
    office_of,
    open_window,
    pair,
    rows_of,
    send,
)
from tests.paper_card import Paper

pytestmark = pytest.mark.django_db


@pytest.fixture
def paper() -> Paper:
    return Paper()


def test_a_card_gets_one_number_a_version_and_only_where_its_judge_sits(paper: Paper) -> None:
    (again,) = issue_cards(judge=paper.judge, entries=[paper.entry], at=AT)
    assert again == paper.card
    other = build_show(slug="other-ground")
    stranger = Entry.objects.filter(show=other)[0]
    with pytest.raises(NotFound, match="does not sit"):
        issue_cards(judge=paper.judge, entries=[stranger], at=AT)
    assert PaperCard.objects.count() == 1


def test_one_keying_counts_for_nothing_and_its_values_stay_out_of_the_record(paper: Paper) -> None:
    assert paper.key(paper.one).state is State.ONCE
    assert not RoundEvent.objects.exists()
    assert not paper.marks()
    with pytest.raises(Conflict, match="wait until they agree"):
        paper.take()
    line = AuditEntry.objects.filter(verb="keyed").get()
    assert line.before is None
    assert line.after == {"turn": 1, "edition": 1}


def test_the_same_person_cannot_key_twice(paper: Paper) -> None:
    paper.key(paper.one)
    with pytest.raises(Conflict, match="another person"):
        paper.key(paper.one)
    assert Keying.objects.count() == 1
    # Nor behind the action's back.
    with pytest.raises(IntegrityError), transaction.atomic():
        Keying.objects.create(card=paper.card, edition=1, turn=2, keyed_by=paper.one, keyed_at=AT)
    with pytest.raises(IntegrityError), transaction.atomic():
        Keying.objects.create(card=paper.card, edition=1, turn=1, keyed_by=paper.two, keyed_at=AT)


def test_what_two_agree_on_becomes_the_judges_card(paper: Paper) -> None:
    code, *_ = [row.code for row in paper.rows]
    typed = paper.typed(**{f"row__{code}": "x", f"remark__{paper.rows[0].section.code}": "Dry."})
    assert paper.key_twice(typed).state is State.AGREED
    assert not RoundEvent.objects.exists()
    taken = paper.take()
    assert (taken.held, taken.handed_in, taken.lacking) == (0, True, 0)
    assert taken.applied == len(paper.rows) + 2
    assert paper.marks() == {
        row.code: "not_inspected None" if row.code == code else "marked 7.00" for row in paper.rows
    }
    assert Remark.objects.get().text == "Dry."
    card = Card.objects.get(judge=paper.judge, entry=paper.entry)
    assert card.handed_in_at == AT
    assert card.handed_in_device is not None
    assert card.handed_in_device.is_paper
    assert paper.state is State.TAKEN
    assert Scorecard.objects.get().frozen_at == AT


def test_the_source_is_told_with_both_persons(paper: Paper) -> None:
    paper.key_twice()
    paper.take()
    said = f"From paper, keyed by {paper.one.name} and {paper.two.name}"
    for event in RoundEvent.objects.all():
        assert event.body["source"] == "paper"
        assert [one["id"] for one in event.body["keyed_by"]] == [paper.one.pk, paper.two.pk]
        assert str(event.device) == "Paper card"
    line = AuditEntry.objects.get(verb="took")
    assert line.reason == f"{said}."
    assert line.after["keyed_by"] == [paper.one.name, paper.two.name]
    assert line.after["given"][f"row:{paper.rows[0].code}"] == "7"
    key = (paper.judge.pk, paper.entry.pk)
    assert keyed_from_paper(paper.show) == {key: said}
    told = {(c.judge_code, c.entry_number): c.source for c in progress_of(paper.show).cards}
    assert told.pop((paper.judge.code, paper.entry.number)) == said
    assert set(told.values()) == {""}


def test_taking_it_again_adds_nothing(paper: Paper) -> None:
    paper.key_twice(paper.typed(concern="note", concern_words="worn"))
    first = paper.take()
    before = list(RoundEvent.objects.order_by("pk").values())
    marks = list(CardMark.objects.order_by("pk").values())
    assert paper.take() == first
    assert take_card(card=paper.card, by=paper.one, at=AT + timedelta(hours=1)) == first
    assert list(RoundEvent.objects.order_by("pk").values()) == before
    assert list(CardMark.objects.order_by("pk").values()) == marks
    assert AuditEntry.objects.filter(verb="took").count() == 1
    assert PaperCard.objects.get().taken_by == paper.two


def test_a_difference_waits_for_a_third_look(paper: Paper) -> None:
    a = f"row:{paper.rows[0].code}"
    second = {**paper.typed(), a: "1", "signed": "no"}
    assert paper.key_twice(paper.typed(), second).state is State.DIFFER
    with pytest.raises(Conflict):
        paper.take()
    with pytest.raises(InvalidInput) as refused:
        look_at(card=paper.card, choices={a: Choice("typed", "77")}, by=paper.one, at=AT)
    assert set(refused.value.fields) == {a, "signed"}
    assert not Keying.objects.filter(turn=3).exists()
    choices = {a: Choice("typed", "4"), "signed": Choice("first")}
    looked = look_at(card=paper.card, choices=choices, by=paper.one, at=AT)
    assert looked.state is State.AGREED
    assert looked.look is not None
    assert looked.look.keyed_by == paper.one
    assert list(
        KeyedRow.objects.filter(keying__turn=3).values_list("place", "given", "chosen")
    ) == [
        (a, "4", "typed"),
        ("signed", "yes", "first"),
    ]
    with pytest.raises(Conflict, match="agreed"):
        look_at(card=paper.card, choices=choices, by=paper.two, at=AT)
    assert paper.take().handed_in
    assert paper.marks()[a.removeprefix("row:")] == "marked 4.00"
    line = AuditEntry.objects.get(verb="looked at")
    assert line.before[a] == {"first": "7", "second": "1"}
    assert line.after[a] == {"given": "4", "by": "typed"}


def test_two_seconds_at_once_leave_one(paper: Paper) -> None:
    third = judge_of(paper.show, "J2").person
    paper.key_twice()
    with pytest.raises(Conflict, match="Two people have keyed"):
        paper.key(third)
    assert Keying.objects.count() == 2


def test_faults_are_told_by_row_and_nothing_is_kept(paper: Paper) -> None:
    place = f"row:{paper.rows[0].code}"
    with pytest.raises(InvalidInput) as refused:
        paper.key(paper.one, {**paper.typed(), place: "7.5"})
    assert set(refused.value.fields) == {place}
    assert "steps of 1" in refused.value.fields[place]
    assert not Keying.objects.exists()


def test_a_phones_marks_are_met_like_a_second_phones(paper: Paper) -> None:
    phone, _ = pair(paper.judge)
    same, other = paper.rows[0].code, paper.rows[1].code
    send(phone, [mark(paper.entry, same, 7), mark(paper.entry, other, 3)])
    paper.key_twice()
    taken = paper.take()
    assert taken.held == 1
    held = RoundEvent.objects.get(applied=False)
    assert (held.body["criterion"], held.reason_code) == (other, "other-device")
    assert held in progress_of(paper.show).held
    assert paper.marks()[other] == "marked 3.00"
    assert paper.marks()[same] == "marked 7.00"
    # Both histories are there.
    assert RoundEvent.objects.filter(device=phone).count() == 2
    assert taken.handed_in
    # What the phone sends later is the office's to weigh.
    (late,) = send(phone, [mark(paper.entry, same, 1)])
    assert late.code == "card-handed-in"


def test_after_a_phone_has_handed_in_paper_waits_for_the_office(paper: Paper) -> None:
    phone, _ = pair(paper.judge)
    send(phone, [*(mark(paper.entry, row.code, 3) for row in paper.rows), hand_in(paper.entry)])
    paper.key_twice()
    assert paper.take().held == len(paper.rows)
    assert set(paper.marks().values()) == {"marked 3.00"}


@pytest.mark.parametrize(
    ("change", "lacking", "signed"),
    [({"signed": "no"}, 0, False), ({"first row": "."}, 1, True)],
)
def test_an_unsigned_or_unfinished_card_is_not_handed_in(
    paper: Paper, change: dict[str, str], lacking: int, signed: bool
) -> None:
    first = f"row:{paper.rows[0].code}"
    typed = paper.typed() | {k.replace("first row", first): v for k, v in change.items()}
    paper.key_twice(typed)
    taken = paper.take()
    assert (taken.handed_in, taken.lacking, taken.signed) == (False, lacking, signed)
    assert taken.held == 0
    assert not RoundEvent.objects.filter(applied=False).exists()
    assert Card.objects.get().handed_in_at is None
    if lacking:
        phone, _ = pair(paper.judge)
        send(phone, [mark(paper.entry, paper.rows[0].code, 2)])
        assert paper.take().handed_in
        assert Card.objects.get().handed_in_at == AT


def test_a_safety_concern_does_not_wait_and_is_raised_once(paper: Paper) -> None:
    words = {"concern": "stop", "concern-words": "Cracked reach!"}
    paper.key(paper.one, {**paper.typed(), **words})
    raised = SafetyConcern.objects.get()
    assert (raised.degree, raised.text, raised.entry) == ("stop", "Cracked reach!", paper.entry)
    assert raised.judge == paper.judge
    paper.key(paper.two, {**paper.typed(), **words, "concern-words": "cracked reach"})
    paper.take()
    assert SafetyConcern.objects.count() == 1
    start_over(card=paper.card, reason="A page was missed.", by=paper.one, at=AT)
    paper.key(paper.one, {**paper.typed(), **words})
    assert SafetyConcern.objects.count() == 1


def test_a_card_of_an_older_version_is_refused(paper: Paper) -> None:
    paper.key(paper.one)
    old = Scorecard.objects.get()
    made = new_version(card=old, by=paper.one, at=AT)
    use_scorecard(card=made, reason="A row was unclear.", by=paper.one, at=AT)
    for do in (
        lambda: paper.key(paper.two),
        paper.take,
        lambda: start_over(card=paper.card, reason="x", by=paper.one, at=AT),
    ):
        with pytest.raises(Conflict, match="printed for Wagon, camp and harness, version 1") as no:
            do()
        assert "version 2 now" in no.value.detail
    lines = [line for line in card_lines(paper.show) if line.outdated]
    assert [line.keyed.card for line in lines if line.keyed] == [paper.card]
    (new,) = issue_cards(judge=paper.judge, entries=[paper.entry], at=AT)
    assert new != paper.card


def test_a_judge_who_lost_the_seat_keys_nothing(paper: Paper) -> None:
    paper.key_twice()
    paper.judge.seats.filter(entry=paper.entry).delete()
    with pytest.raises(Conflict, match="does not sit"):
        paper.take()
    assert not RoundEvent.objects.exists()


def test_paper_is_no_phone(paper: Paper) -> None:
    paper.key_twice()
    paper.take()
    device = Device.objects.get()
    assert device_by_token(device.token_hash) is None
    assert not [d for judge in judges_of(paper.show) for d in judge.devices.all()]
    assert not [d for judge in judges_with_phones(paper.show) for d in judge.devices.all()]


def test_keying_tells_nothing_of_when_the_judge_was_there() -> None:
    paper = Paper()
    open_window(paper.show)
    paper.key_twice()
    paper.take()
    times = visit_times(paper.show)
    assert times
    assert [time for time in times if time.began_at or time.ended_at] == []


def test_two_cards_of_a_judge_count_on(paper: Paper) -> None:
    paper.key_twice()
    paper.take()
    entry = paper.judge.seats.exclude(entry=paper.entry).earliest("entry__number").entry
    (paper.card,) = issue_cards(judge=paper.judge, entries=[entry], at=AT)
    paper.entry, paper.rows = entry, rows_of(paper.judge, entry)
    paper.key_twice()
    paper.take()
    seqs = list(RoundEvent.objects.order_by("seq").values_list("seq", flat=True))
    assert seqs == list(range(1, len(seqs) + 1))
    assert Device.objects.count() == 1


def test_the_list_asks_as_often_for_many_as_for_few() -> None:
    def asked(n: int, slug: str) -> int:
        show = build_show(n_entries=n, slug=slug)
        draw_panel(show)
        judge = judge_of(show)
        entries = Entry.objects.filter(pk__in=judge.seats.values("entry"))
        for card in issue_cards(judge=judge, entries=entries, at=AT):
            rows = {f"row:{row.code}": "7" for row in rows_of(judge, card.entry)}
            key_card(card=card, typed=rows, by=office_of(show), at=AT)
        with CaptureQueriesContext(connection) as found:
            assert [str(line.keyed and line.keyed.given) for line in card_lines(show)]
        return len(found)

    assert asked(2, "small") == asked(6, "large")
