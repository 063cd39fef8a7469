"""Changing an entry's details: all of it or nothing, and on the record."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from entries.actions.change_entry import change_entry
from entries.actions.keep_animals import set_animals
from entries.actions.keep_outfit import keep_outfit
from entries.models import Animal, Entry, EntryTerms, Outfit
from entries.queries.lacking import lacking_of
from entries.rules.animal_papers import AnimalFacts
from entries.rules.places import Status
from showrun.errors import InvalidInput, NotYet
from showrun.shows.models import AuditEntry, Person, Show
from tests.people import NOW, ShowFactory
from tests.pictures import picture

pytestmark = pytest.mark.django_db
DOLLY = AnimalFacts("Dolly", eia_tested_on=date(2127, 4, 1))
MOLLY = AnimalFacts("Molly", "mule", "gray")


@pytest.fixture(autouse=True)
def files(settings: Any, tmp_path: Path) -> Path:
    settings.MEDIA_ROOT = tmp_path
    return tmp_path


@pytest.fixture
def terms(show: Show) -> EntryTerms:
    return EntryTerms.objects.create(
        show=show, waiver_text="At my own risk.", waiver_version=1, emergency_asked=True,
        camp_asked=True, animals_asked=True, eia_max_age_days=365,
    )  # fmt: skip


def change(entry: Entry, by: Person, **more: Any) -> Entry:
    changed = change_entry(entry=entry, by=by, **{"at": NOW, **more})
    changed.refresh_from_db()
    return changed


def kept_files(files: Path) -> list[Path]:
    return [path for path in files.rglob("*") if path.is_file()]


def test_only_what_is_given_changes(entry: Entry, exhibitor: Person, terms: EntryTerms):
    change(entry, exhibitor, changes={"frontage_ft": 50, "dietary_notes": "no nuts"})
    changed = change(entry, exhibitor, changes={"depth_ft": 40, "status": "confirmed"})
    assert (changed.frontage_ft, changed.depth_ft, changed.dietary_notes) == (50, 40, "no nuts")
    assert changed.status == Status.ENTERED


def test_a_rig_adopted_while_it_was_being_changed_stays(
    entry: Entry, exhibitor: Person, terms: EntryTerms, monkeypatch: pytest.MonkeyPatch
):
    def adopted_meanwhile(*args: Any, **kwargs: Any) -> dict[str, str]:
        Entry.objects.filter(pk=entry.pk).update(tongue="stiff")
        return {}

    Entry.objects.filter(pk=entry.pk).update(tongue="drop")
    monkeypatch.setattr("entries.actions.change_entry.faults_of_particulars", adopted_meanwhile)
    changed = change(entry, exhibitor, changes={"frontage_ft": 50})
    assert (changed.tongue, changed.frontage_ft) == ("stiff", 50)


def test_all_faults_at_once_and_nothing_changed(
    entry: Entry, exhibitor: Person, terms: EntryTerms, files: Path
):
    with pytest.raises(InvalidInput) as refused:
        change(
            entry, exhibitor, changes={"frontage_ft": 50, "depth_ft": 1, "emergency_name": "Eve"},
            waiver_version=9, waiver_agreed_by="Ada", photo=b"none",
            animals=[DOLLY, AnimalFacts("", eia_tested_on=date(2127, 5, 2))],
        )  # fmt: skip
    assert set(refused.value.fields) == {
        *("depth_ft", "emergency_phone", "waiver_agreed_by", "photo"),
        *("animal_name_2", "animal_eia_2"),
    }
    entry.refresh_from_db()
    assert entry.frontage_ft is None
    assert not Animal.objects.exists()
    assert not AuditEntry.objects.exists()
    assert not kept_files(files)


def test_the_record_says_what_changed_and_keeps_private_words_out(
    entry: Entry, exhibitor: Person, terms: EntryTerms
):
    said = {"frontage_ft": 50, "emergency_name": "Eve Moor", "emergency_phone": "555 0100"}
    change(entry, exhibitor, changes=said, waiver_version=1, waiver_agreed_by="Ada Moor")
    line = AuditEntry.objects.get()
    assert (line.actor, line.verb) == (exhibitor, "changed the details of")
    assert line.before == {"frontage_ft": None}
    assert line.after == {
        "frontage_ft": 50,
        "emergency_name": "changed",
        "emergency_phone": "changed",
        "waiver": "version 1, as Ada Moor",
    }
    change(entry, exhibitor, changes=said)
    assert AuditEntry.objects.count() == 1, "the same again is no change"


def test_what_is_missing_goes_as_it_is_given(entry: Entry, exhibitor: Person, terms: EntryTerms):
    def missing() -> list[str]:
        return [lack.where for lack in lacking_of(Entry.objects.get(pk=entry.pk))]

    assert missing() == [
        *("waiver_agreed_by", "frontage_ft", "emergency_name", "animal_name_1"),
    ]
    change(entry, exhibitor, waiver_version=1, waiver_agreed_by="Ada Moor")
    change(entry, exhibitor, changes={"frontage_ft": 50, "depth_ft": 40})
    change(entry, exhibitor, changes={"emergency_name": "Eve", "emergency_phone": "555 0100"})
    change(entry, exhibitor, animals=[DOLLY, MOLLY])
    assert missing() == ["animal_eia_2"]
    EntryTerms.objects.update(waiver_version=2)
    assert missing() == ["waiver_agreed_by", "animal_eia_2"]


def test_a_scratched_entry_and_a_show_that_is_over_stay_as_they_are(
    entry: Entry, exhibitor: Person
):
    over = NOW + timedelta(days=30)
    with pytest.raises(NotYet, match="over"):
        change(entry, exhibitor, changes={"depth_ft": 40}, at=over)
    Entry.objects.filter(pk=entry.pk).update(status=Status.SCRATCHED.value)
    with pytest.raises(NotYet, match="scratched"):
        change(entry, exhibitor, changes={"depth_ft": 40})


def test_the_kept_outfit_follows(entry: Entry, exhibitor: Person):
    kept = keep_outfit(entry=entry, at=NOW)
    change(entry, exhibitor, changes={"frontage_ft": 60})
    kept.refresh_from_db()
    assert kept.frontage_ft == 60


# --- How the wagon is called --------------------------------------------------------------


def test_a_name_mistyped_is_put_right_and_the_record_has_both(
    entry: Entry, exhibitor: Person, office: Person
):
    before = entry.wagon_name
    said = {"wagon_name": " Copper Ketle ", "outfit": "Moor", "history": "New bows."}
    change(entry, exhibitor, changes=said)
    changed = change(entry, office, changes={"wagon_name": "Copper Kettle"})
    told = (changed.wagon_name, changed.outfit, changed.history)
    assert told == ("Copper Kettle", "Moor", "New bows.")
    first, second = AuditEntry.objects.order_by("id")
    assert first.before == {"wagon_name": before, "outfit": "", "history": ""}
    assert first.after == {"wagon_name": "Copper Ketle", "outfit": "Moor", "history": "New bows."}
    assert (second.actor, second.before) == (office, {"wagon_name": "Copper Ketle"})


@pytest.mark.parametrize(
    ("who", "words"),
    [("exhibitor", "You have entered"), ("office", "This exhibitor has entered a wagon of this")],
)
def test_no_exhibitor_has_two_wagons_of_one_name(
    entry: Entry, exhibitor: Person, show: Show, request: pytest.FixtureRequest, who: str,
    words: str,
):  # fmt: skip
    Entry.objects.create(
        show=show, exhibitor=exhibitor, wagon_name="Copper Kettle", status="entered", entered_at=NOW
    )
    by = request.getfixturevalue(who)
    with pytest.raises(InvalidInput) as refused:
        change(entry, by, changes={"wagon_name": "COPPER  kettle", "history": "x" * 2001})
    assert words in refused.value.fields["wagon_name"]
    assert "2000" in refused.value.fields["history"]
    with pytest.raises(InvalidInput) as refused:
        change(entry, by, changes={"wagon_name": "  "})
    assert set(refused.value.fields) == {"wagon_name"}
    same = {"wagon_name": entry.wagon_name.upper()}
    assert change(entry, by, changes=same).wagon_name == same["wagon_name"], "its own is no twin"


def test_the_outfit_of_one_show_takes_the_name_on_and_one_of_several_keeps_it(
    entry: Entry, exhibitor: Person
):
    first = entry.wagon_name
    kept = keep_outfit(entry=entry, at=NOW)
    change(entry, exhibitor, changes={"wagon_name": "Copper Kettle"})
    assert [one.wagon_name for one in Outfit.objects.all()] == ["Copper Kettle"]
    Entry.objects.create(
        show=ShowFactory.create(), exhibitor=exhibitor, wagon_name="Copper Kettle",
        status="entered", entered_at=NOW, kept_outfit=kept,
    )  # fmt: skip
    changed = change(entry, exhibitor, changes={"wagon_name": first})
    assert {one.wagon_name for one in Outfit.objects.all()} == {"Copper Kettle", first}
    assert changed.kept_outfit != kept


# --- The photo -----------------------------------------------------------------------------


def test_a_photo_put_in_anothers_place_and_taken_away(
    entry: Entry, exhibitor: Person, files: Path, django_capture_on_commit_callbacks: Any
):
    keep_outfit(entry=entry, at=NOW)
    with django_capture_on_commit_callbacks(execute=True):
        first = change(entry, exhibitor, photo=picture()).photo.name
    assert len(kept_files(files)) == 2, "the entry's and the outfit's"
    with django_capture_on_commit_callbacks(execute=True):
        second = change(entry, exhibitor, photo=picture(size=(60, 20))).photo.name
    assert second != first
    assert len(kept_files(files)) == 2, "no file stays that nobody uses"
    with django_capture_on_commit_callbacks(execute=True):
        assert not change(entry, exhibitor, remove_photo=True).photo
    assert not kept_files(files)
    assert AuditEntry.objects.filter(after={"photo": "removed"}).count() == 1


def test_a_photo_two_entries_share_stays_for_the_other(
    entry: Entry, other_entry: Entry, exhibitor: Person, other_exhibitor: Person, files: Path,
    django_capture_on_commit_callbacks: Any,
):  # fmt: skip
    change(entry, exhibitor, photo=picture())
    other = change(other_entry, other_exhibitor, photo=picture())
    with django_capture_on_commit_callbacks(execute=True):
        change(entry, exhibitor, remove_photo=True)
    assert other.photo.storage.exists(str(other.photo))


# --- Animals -------------------------------------------------------------------------------


def test_an_animal_keeps_its_row_and_papers_seen_stay_seen(
    entry: Entry, exhibitor: Person, office: Person
):
    dolly, molly = set_animals(entry=entry, animals=[DOLLY, MOLLY], by=exhibitor, at=NOW)
    Animal.objects.update(papers_seen_at=NOW, papers_seen_by=office)
    renamed = AnimalFacts("Dolly B.", eia_tested_on=DOLLY.eia_tested_on, row=dolly.pk)
    brown = AnimalFacts("Molly", "mule", "brown")
    kept = set_animals(entry=entry, animals=[renamed, brown], by=exhibitor, at=NOW)
    assert [animal.pk for animal in kept] == [dolly.pk, molly.pk]
    dolly.refresh_from_db()
    molly.refresh_from_db()
    assert dolly.papers_seen_at is None, "another name: whose papers were they?"
    assert (molly.papers_seen_at, molly.description) == (NOW, "brown")


def test_another_date_is_to_be_seen_again(entry: Entry, exhibitor: Person, office: Person):
    (dolly,) = set_animals(entry=entry, animals=[DOLLY], by=exhibitor, at=NOW)
    Animal.objects.update(papers_seen_at=NOW, papers_seen_by=office)
    newer = AnimalFacts("Dolly", eia_tested_on=date(2127, 4, 20))
    set_animals(entry=entry, animals=[newer], by=exhibitor, at=NOW)
    dolly.refresh_from_db()
    assert (dolly.papers_seen_at, dolly.papers_seen_by) == (None, None)


def test_the_list_is_the_whole_list(
    entry: Entry, other_entry: Entry, exhibitor: Person, other_exhibitor: Person
):
    (theirs,) = set_animals(entry=other_entry, animals=[MOLLY], by=other_exhibitor, at=NOW)
    set_animals(entry=entry, animals=[DOLLY, MOLLY], by=exhibitor, at=NOW)
    foreign = AnimalFacts("Polly", row=theirs.pk)
    (polly,) = set_animals(entry=entry, animals=[foreign], by=exhibitor, at=NOW)
    assert polly.pk != theirs.pk
    assert [str(animal) for animal in Animal.objects.order_by("id")] == [
        "Molly (mule)",
        "Polly (horse)",
    ]
    assert set_animals(entry=entry, animals=[], by=exhibitor, at=NOW) == []
    lines = AuditEntry.objects.filter(actor=exhibitor, verb="listed the animals of")
    assert [len(line.after["animals"]) for line in lines.order_by("id")] == [2, 1, 0]
