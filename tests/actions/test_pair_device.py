"""A lost phone is replaced in one go, and a code may name who keys for the judge."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from entries.models import CrewMember
from judging.actions import pair_device as verbs
from judging.actions.pair_device import (
    change_scribe,
    make_pairing_code,
    pair_device,
    replace_phone,
    shut_out_device,
)
from judging.models import Device, Judge, PairingCode, RoundEvent
from judging.queries.devices import judges_at_work, kept_aside, wagons_of_namesakes
from judging.queries.keyed import Hands, keyed_by_of, names_on_card
from judging.queries.receipts import JudgeReceipts, receipts_of
from judging.queries.round import round_bundle
from showrun.errors import Conflict, Gone, InvalidInput
from showrun.shows.models import AuditEntry, Show
from tests.judged_show import (
    AT,
    build_show,
    card_events,
    clear,
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
from tests.tampered import unguarded

pytestmark = pytest.mark.django_db


@pytest.fixture
@remembered
def show() -> Show:
    made = build_show(n_entries=3, n_judges=3)
    draw_panel(made)
    return made


def code_for(judge: Judge, scribe: str = "") -> str:
    return make_pairing_code(judge=judge, scribe=scribe, by=office_of(judge.show), at=AT)[1]


def replaced(device: Device, reason: str = "lost") -> str:
    by = office_of(device.judge.show)
    return replace_phone(device=device, reason=reason, by=by, at=AT)[1]


def record(show: Show, verb: str) -> AuditEntry:
    return AuditEntry.objects.filter(show=show, verb=verb).latest("pk")


# --- A lost phone --------------------------------------------------------------------------


def test_a_lost_phone_is_shut_out_and_the_next_one_is_the_same_judges(show: Show):
    judge = judge_of(show)
    old, _ = pair_device(code=code_for(judge, "Ana Ruiz"), label="blue cover", at=AT)
    code = replaced(old, " left in the creek ")
    old.refresh_from_db()
    assert old.revoked_at == AT
    new, _ = pair_device(code=code, label="red cover", at=AT)
    assert (new.judge, new.scribe, new.revoked_at) == (judge, "Ana Ruiz", None)
    assert record(show, "shut out").reason == "left in the creek"
    assert record(show, "shut out").actor == office_of(show)
    assert record(show, "made").after == {"scribe": "Ana Ruiz"}


def test_the_next_phone_goes_on_with_the_cards_as_they_stand(show: Show):
    judge = judge_of(show)
    entry = judge.seats.select_related("entry")[0].entry
    first = rows_of(judge, entry)[0]
    old, _ = pair(judge)
    send(old, [mark(entry, first.code, 7)])
    new, _ = pair_device(code=replaced(old), label="", at=AT)
    bundle = round_bundle(new, at=AT)
    visit = next(one for one in bundle["visits"] if one["entry"]["id"] == entry.pk)
    assert visit["card"]["marks"] == {first.code: {"state": "marked", "value": "7"}}


def test_a_phone_is_replaced_once_and_not_without_a_reason(show: Show):
    device, _ = pair(judge_of(show))
    codes = PairingCode.objects.count()
    with pytest.raises(InvalidInput, match="Say why"):
        replaced(device, "  ")
    device.refresh_from_db()
    assert device.revoked_at is None
    replaced(device)
    with pytest.raises(Conflict, match="shut out already"):
        replaced(device)
    assert PairingCode.objects.count() == codes + 1


def test_no_phone_is_shut_out_when_the_code_cannot_be_made(show: Show, monkeypatch: Any):
    device, _ = pair(judge_of(show))

    def fails(**_: Any) -> None:
        raise InvalidInput("No code today.")

    monkeypatch.setattr(verbs, "make_pairing_code", fails)
    with pytest.raises(InvalidInput):
        replaced(device)
    device.refresh_from_db()
    assert device.revoked_at is None
    assert not AuditEntry.objects.filter(show=show, verb="shut out").exists()


# --- The same judge once more --------------------------------------------------------------


def test_a_code_may_say_that_the_next_phone_takes_the_place_of_those_there(show: Show):
    judge = judge_of(show)
    entry = judge.seats.select_related("entry")[0].entry
    row = rows_of(judge, entry)[0].code
    old, _ = pair(judge, label="blue cover")
    by = office_of(show)
    _, code = make_pairing_code(judge=judge, takes_place=True, by=by, at=AT)
    assert record(show, "made").after == {"takes_the_place_of": ["blue cover"]}
    send(old, [mark(entry, row, 7)])  # the phone counts until another is paired
    new, _ = pair_device(code=code, label="red cover", at=AT)
    old.refresh_from_db()
    assert (old.revoked_at, new.revoked_at) == (AT, None)
    assert record(show, "shut out").reason == "red cover took its place"
    [corrected] = send(new, [mark(entry, row, 8)])
    assert corrected.status == "applied"
    [late] = send(old, [mark(entry, row, 3)])
    assert (late.status, late.code) == ("held", "device-shut-out")


def test_without_it_both_phones_count_and_contradict_each_other(show: Show):
    judge = judge_of(show)
    entry = judge.seats.select_related("entry")[0].entry
    row = rows_of(judge, entry)[0].code
    old, _ = pair(judge)
    new, _ = pair_device(code=code_for(judge), label="", at=AT)
    send(old, [mark(entry, row, 7)])
    [held] = send(new, [mark(entry, row, 8)])
    assert held.code == "other-device"
    assert not Device.objects.filter(revoked_at__isnull=False).exists()


def test_only_phones_there_when_the_code_was_made_and_of_that_judge_are_replaced(show: Show):
    judge, later = judge_of(show), AT + timedelta(minutes=5)
    _, code = make_pairing_code(judge=judge, takes_place=True, by=None, at=AT)
    assert not PairingCode.objects.latest("pk").takes_place  # there is none
    first, _ = pair(judge)
    others, _ = pair(judge_of(show, "J2"))
    _, code = make_pairing_code(judge=judge, takes_place=True, by=None, at=AT)
    meanwhile, _ = pair(judge, at=later)
    pair_device(code=code, label="", at=later)
    assert set(Device.objects.filter(revoked_at__isnull=False)) == {first}
    assert {others, meanwhile} <= set(Device.objects.filter(revoked_at=None))


def test_a_phone_paired_again_takes_its_own_place_whatever_the_code_says(show: Show):
    judge = judge_of(show)
    old, token = pair(judge)
    beside, _ = pair(judge)
    theirs, their_token = pair(judge_of(show, "J2"))
    earlier = [token, their_token, "never given"]
    new, _ = pair_device(code=code_for(judge), label="", earlier=earlier, at=AT)
    assert set(Device.objects.filter(revoked_at__isnull=False)) == {old}
    assert {beside, theirs, new} <= set(Device.objects.filter(revoked_at=None))


# --- Scribes -------------------------------------------------------------------------------


def test_a_code_carries_the_scribe_to_the_phone_and_into_its_round(show: Show):
    judge = judge_of(show)
    device, _ = pair_device(code=code_for(judge, "  Ana   Ruiz "), label="", at=AT)
    assert device.scribe == "Ana Ruiz"
    assert round_bundle(device, at=AT)["device"]["scribe"] == "Ana Ruiz"
    assert record(show, "paired").after == {"scribe": "Ana Ruiz"}
    plain, _ = pair_device(code=code_for(judge), label="", at=AT)
    assert plain.scribe == ""
    assert record(show, "paired").after is None


@pytest.mark.parametrize("name", ["Chidi Abara", " chidi  ABARA "])
def test_a_judge_is_not_their_own_scribe(show: Show, name: str):
    judge = judge_of(show)
    with pytest.raises(InvalidInput, match="is the judge") as refused:
        code_for(judge, name)
    assert "scribe" in refused.value.fields
    device, _ = pair(judge)
    with pytest.raises(InvalidInput, match="is the judge"):
        change_scribe(device=device, scribe=name, by=office_of(show), at=AT)


def test_a_scribes_name_has_eighty_letters_at_most(show: Show):
    device, _ = pair_device(code=code_for(judge_of(show), "x" * 80), label="", at=AT)
    assert len(device.scribe) == 80
    with pytest.raises(InvalidInput, match="at most 80"):
        code_for(judge_of(show), "x" * 81)


def test_who_keys_is_changed_on_a_paired_phone_and_recorded(show: Show):
    device, _ = pair(judge_of(show))
    by = office_of(show)
    for name, before in (("Ana Ruiz", ""), ("", "Ana Ruiz")):
        change_scribe(device=device, scribe=name, by=by, at=AT)
        assert Device.objects.get(pk=device.pk).scribe == name
        line = record(show, "changed")
        assert (line.before, line.after, line.actor) == ({"scribe": before}, {"scribe": name}, by)
    lines = AuditEntry.objects.filter(show=show, verb="changed").count()
    change_scribe(device=device, scribe="", by=by, at=AT)
    assert AuditEntry.objects.filter(show=show, verb="changed").count() == lines


def test_nobody_keys_on_a_phone_that_was_shut_out(show: Show):
    device, _ = pair(judge_of(show))
    shut_out_device(device=device, by=office_of(show), at=AT, reason="lost")
    with pytest.raises(Conflict, match="nobody keys"):
        change_scribe(device=device, scribe="Ana Ruiz", by=office_of(show), at=AT)


def test_a_namesake_among_the_judges_own_wagons_is_found(show: Show):
    judge = judge_of(show)
    wagons = {seat.entry for seat in judge.seats.select_related("entry")}
    mine = min(wagons, key=lambda entry: entry.number or 0)
    assert wagons_of_namesakes(judge, "Ana Ruiz") == []
    CrewMember.objects.create(entry=mine, name="Ana  Ruiz", role="helper")
    assert wagons_of_namesakes(judge, "ana ruiz") == [mine]
    assert wagons_of_namesakes(judge, mine.exhibitor.name) == [mine]
    judge.seats.filter(entry=mine).delete()
    assert wagons_of_namesakes(judge, "Ana Ruiz") == []


# --- Who keyed a card ----------------------------------------------------------------------


def marked_card(show: Show) -> tuple[Judge, Any, Device, list[str]]:
    """A card marked and handed in by phone, and the codes of its rows."""
    judge = judge_of(show)
    entry = judge.seats.select_related("entry")[0].entry
    device, _ = pair(judge)
    send(device, card_events(judge, entry))
    return judge, entry, device, [row.code for row in rows_of(judge, entry)]


@unguarded(RoundEvent)
def keyed(name: str, **which: Any) -> None:
    assert RoundEvent.objects.filter(**which).update(keyed_by=name) >= 1


def test_a_card_names_every_hand_once_whichever_touch_it_made(show: Show):
    judge, entry, device, rows = marked_card(show)
    key = (judge.pk, entry.pk)
    assert keyed_by_of(show)[key] == Hands((), judge=True)
    keyed("Ana Ruiz", device=device, kind="mark")
    assert keyed_by_of(show)[key] == Hands(("Ana Ruiz",), judge=True)  # the hand-in is the judge's
    keyed("Ben Oakes", device=device, kind="hand_in")
    assert keyed_by_of(show)[key] == Hands(("Ana Ruiz", "Ben Oakes"), judge=False)
    assert set(keyed_by_of(show)) == {key}


def test_a_touch_that_gave_no_standing_mark_names_nobody(show: Show):
    judge = judge_of(show)
    entry = judge.seats.select_related("entry")[0].entry
    first, second, *_ = (row.code for row in rows_of(judge, entry))
    device, _ = pair(judge)
    send(device, [mark(entry, first, 3), mark(entry, second, 3), mark(entry, first, 4)])
    keyed("Ana Ruiz", device=device, seq=1)
    assert keyed_by_of(show)[judge.pk, entry.pk].scribes == ()
    keyed("Ana Ruiz", device=device, seq=2)
    assert keyed_by_of(show)[judge.pk, entry.pk].scribes == ("Ana Ruiz",)
    send(device, [clear(entry, second)])
    keyed("Ana Ruiz", device=device, seq=4)
    assert keyed_by_of(show)[judge.pk, entry.pk].scribes == ()


def test_names_on_a_card_are_said_in_one_line():
    assert names_on_card("Jo", Hands((), judge=True)) == "Judge: Jo. Keyed by: the judge."
    three = Hands(("Ana", "Ben"), judge=True)
    assert names_on_card("Jo", three) == "Judge: Jo. Keyed by: Ana, Ben and the judge."
    assert names_on_card("Jo", None) == "Judge: Jo."
    paper = names_on_card("Jo", Hands(), "From paper, keyed by Al and Bo")
    assert paper == "Judge: Jo. From paper, keyed by Al and Bo."


# --- Receipts ------------------------------------------------------------------------------


def receipt(show: Show, code: str = "J1") -> JudgeReceipts:
    return next(one for one in receipts_of(show) if one.judge.code == code)


def test_a_card_has_the_digits_the_phone_shows_and_its_last_touch(show: Show):
    judge, entry, device, rows = marked_card(show)
    later = AT + timedelta(minutes=9)
    send(device, [mark(entry, "no_such_row", 1)], at=later)  # held, and yet it came
    card = next(one for one in receipt(show).cards if one.entry == entry)
    bundle = round_bundle(device, at=AT)
    told = next(one for one in bundle["visits"] if one["entry"]["id"] == entry.pk)["card"]
    assert card.digits.replace(" ", "") == told["hash"][:8]
    assert (card.marks, card.handed_in_at, card.last_received_at) == (len(rows), AT, later)
    others = [one for one in receipt(show).cards if one.entry != entry]
    assert others
    assert {(one.digits, one.marks, one.last_received_at) for one in others} == {("", 0, None)}
    assert (receipt(show).cards_in, receipt(show).cards_expected) == (1, 1 + len(others))


def test_numbers_that_did_not_come_are_missing_until_they_do(show: Show):
    judge = judge_of(show)
    entry = judge.seats.select_related("entry")[0].entry
    code = rows_of(judge, entry)[0].code
    device, _ = pair(judge)
    assert [phone.highest for phone in receipt(show).phones] == [0]
    send(device, [{**mark(entry, code, 3), "seq": n} for n in (1, 2, 6)], unsent=4)
    (phone,) = receipt(show).phones
    assert (phone.highest, phone.missing, phone.device.unsent) == (6, 3, 4)
    assert [str(gap) for gap in phone.gaps] == ["3 to 5"]
    send(device, [{**mark(entry, code, 3), "seq": n} for n in (5, 3, 4)])
    (phone,) = receipt(show).phones
    assert (phone.highest, phone.missing) == (6, 0)


def test_a_phone_paired_anew_counts_on_and_one_never_paired_does_not(show: Show):
    judge = judge_of(show)
    entry = judge.seats.select_related("entry")[0].entry
    code = rows_of(judge, entry)[0].code
    old, _ = pair(judge)
    send(old, [{**mark(entry, code, 3), "seq": n} for n in (1, 2)])
    shut_out_device(device=old, by=office_of(show), at=AT, reason="mistaken")
    new, _ = pair(judge, at=AT + timedelta(minutes=1))
    send(new, [{**mark(entry, code, 4), "seq": n} for n in (3, 5)])
    found = {phone.device.pk: [str(gap) for gap in phone.gaps] for phone in receipt(show).phones}
    assert found == {old.pk: [], new.pk: ["4"]}
    fresh, _ = pair(judge_of(show, "J2"))
    send(fresh, [{**hand_in(entry), "seq": 3}])
    assert [phone.missing for phone in receipt(show, "J2").phones] == [2]


def test_judges_with_cards_out_are_at_work(show: Show):
    judge, entry, *_ = marked_card(show)
    assert judge.pk in judges_at_work(show)
    device = judge.devices.get()
    for seat in judge.seats.exclude(entry=entry).select_related("entry").distinct():
        send(device, card_events(judge, seat.entry))
    assert judge.pk not in judges_at_work(show)


def test_what_a_shut_out_phone_sent_is_counted_until_it_is_settled(show: Show):
    device, _ = pair(judge_of(show))
    shut_out_device(device=device, by=office_of(show), at=AT, reason="lost")
    send(Device.objects.get(pk=device.pk), [mark(entry_of(show), "x", 1), hand_in(entry_of(show))])
    assert kept_aside(show) == {device.pk: 2}
    RoundEvent.objects.filter(device=device, kind="hand_in").update(settled_at=AT)
    assert kept_aside(show) == {device.pk: 1}


def test_a_code_that_was_used_is_used_also_after_a_replacement(show: Show):
    old, _ = pair(judge_of(show))
    code = replaced(old)
    pair_device(code=code, label="", at=AT)
    with pytest.raises(Gone):
        pair_device(code=code, label="", at=AT)
