"""Checking a wagon in: ticks that two tablets make, papers animal by animal, the note."""

from __future__ import annotations

from datetime import timedelta

import pytest

from entries.actions.check_in import change_note, note_papers, note_tick
from entries.actions.decide_entry import scratch_entry
from entries.models import Animal, CheckIn, Entry
from entries.queries.check_in import gate_card, gate_of
from entries.rules.gate import Tick
from showrun.errors import InvalidInput, NotYet
from showrun.shows.models import AuditEntry, Person, Show
from tests.people import NOW

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(minutes=5)


def lines(show: Show) -> list[tuple[str, object, object]]:
    found = AuditEntry.objects.filter(show=show, verb="checked in").order_by("id")
    return [(line.subject, line.before, line.after) for line in found]


@pytest.mark.parametrize("tick", Tick)
def test_each_tick_has_its_own_time_and_line_and_is_taken_back(
    other_entry: Entry, office: Person, steward: Person, tick: Tick
):
    assert note_tick(entry=other_entry, tick=tick, done=True, by=office, at=NOW)
    row = CheckIn.objects.get(entry=other_entry)
    made = {one: getattr(row, f"{one.value}_at") for one in Tick}
    assert made == {one: NOW if one is tick else None for one in Tick}
    # Ticked again it stays as it was first seen, and the record has one line.
    assert not note_tick(entry=other_entry, tick=tick, done=True, by=steward, at=LATER)
    row.refresh_from_db()
    assert (getattr(row, f"{tick.value}_at"), row.changed_by) == (NOW, office)
    assert len(lines(other_entry.show)) == 1
    assert note_tick(entry=other_entry, tick=tick, done=False, by=steward, at=LATER)
    row.refresh_from_db()
    assert getattr(row, f"{tick.value}_at") is None
    assert row.changed_by == steward
    (_, undone) = lines(other_entry.show)
    assert undone[0] == "entry 1. Copper Moth"
    assert list(undone[1].values()) == [True]  # type: ignore[attr-defined]
    assert list(undone[2].values()) == [False]  # type: ignore[attr-defined]


def test_two_tablets_with_an_old_page_each_lose_nothing(
    other_entry: Entry, office: Person, steward: Person
):
    """Both read the wagon before either wrote: each writes its own column only."""
    here, there = (Entry.objects.select_related("show").get(pk=other_entry.pk) for _ in range(2))
    note_tick(entry=here, tick=Tick.ARRIVED, done=True, by=office, at=NOW)
    note_tick(entry=there, tick=Tick.PLATE, done=True, by=steward, at=LATER)
    change_note(entry=here, note="North  gate ", by=office, at=LATER)
    row = CheckIn.objects.get(entry=other_entry)
    assert (row.arrived_at, row.plate_given_at, row.note) == (NOW, LATER, "North gate")
    assert not change_note(entry=there, note="North gate", by=steward, at=LATER)


@pytest.fixture
def animals(other_entry: Entry) -> list[Animal]:
    return [Animal.objects.create(entry=other_entry, name=name, kind="mule") for name in "AB"]


def test_papers_are_seen_once_those_of_every_animal_were(
    other_entry: Entry, office: Person, animals: list[Animal]
):
    with pytest.raises(InvalidInput, match="animal by animal"):
        note_tick(entry=other_entry, tick=Tick.PAPERS, done=True, by=office, at=NOW)
    assert note_papers(animal=animals[0], seen=True, by=office, at=NOW)
    assert CheckIn.objects.get().papers_seen_at is None
    assert note_papers(animal=animals[1], seen=True, by=office, at=LATER)
    assert CheckIn.objects.get().papers_seen_at == LATER
    assert Animal.objects.get(pk=animals[0].pk).papers_seen_by == office
    assert not note_papers(animal=animals[0], seen=True, by=office, at=LATER)
    assert note_papers(animal=animals[0], seen=False, by=office, at=LATER)
    animals[0].refresh_from_db()
    assert (animals[0].papers_seen_at, animals[0].papers_seen_by) == (None, None)
    assert CheckIn.objects.get().papers_seen_at is None
    assert len(lines(other_entry.show)) == 3


def test_an_animal_added_after_the_papers_were_seen_is_still_to_do(
    other_entry: Entry, office: Person, animals: list[Animal]
):
    for animal in animals:
        note_papers(animal=animal, seen=True, by=office, at=NOW)
    assert "Papers seen" not in gate_card(other_entry).line.to_do
    Animal.objects.create(entry=other_entry, name="C", kind="horse")
    assert "Papers seen" in gate_card(other_entry).line.to_do


def test_only_confirmed_wagons_are_checked_in(entry: Entry, office: Person):
    with pytest.raises(NotYet, match="only confirmed"):
        note_tick(entry=entry, tick=Tick.ARRIVED, done=True, by=office, at=NOW)
    with pytest.raises(NotYet, match="only confirmed"):
        change_note(entry=entry, note="x", by=office, at=NOW)
    assert not CheckIn.objects.exists()


def test_a_note_too_long_is_refused_and_the_old_one_stays(other_entry: Entry, office: Person):
    change_note(entry=other_entry, note="Kept.", by=office, at=NOW)
    with pytest.raises(InvalidInput, match="200 letters"):
        change_note(entry=other_entry, note="x" * 201, by=office, at=NOW)
    assert CheckIn.objects.get().note == "Kept."


def test_the_gate_counts_who_is_here_who_comes_and_who_left(
    other_entry: Entry, entry: Entry, office: Person, show: Show
):
    def counts() -> tuple[int, int, int]:
        gate = gate_of(show)
        return gate.arrived, gate.expected, gate.scratched

    assert counts() == (0, 1, 0), "an entry that is not confirmed is not expected"
    note_tick(entry=other_entry, tick=Tick.ARRIVED, done=True, by=office, at=NOW)
    assert counts() == (1, 0, 0)
    scratch_entry(entry=other_entry, by=office, at=NOW, reason="Lame mule.")
    assert counts() == (0, 0, 1)
    scratch_entry(entry=entry, by=office, at=NOW, reason="Never came.")
    assert counts() == (0, 0, 1), "an entry that never had a number was not awaited here"
