"""Entering keeps the wagon, its photo and its particulars, and ends the draft."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from entries.actions.enter import enter
from entries.actions.save_draft import discard_draft, save_draft
from entries.models import Entry, EntryDraft, EntryTerms, Outfit, Posting
from entries.rules.places import Status
from showrun.errors import Conflict, Gone, InvalidInput, NotFound, NotYet
from showrun.shows.models import AuditEntry, Person, Show
from tests.people import NOW, RIG, EntryFactory, PersonFactory, ShowFactory
from tests.pictures import MAKER, parts_of, talkative

pytestmark = pytest.mark.django_db
CREW = [{"name": "Ada Moor", "role": "head_cook"}, {"name": "B. O.", "role": "helper"}]


@pytest.fixture(autouse=True)
def files(settings: Any, tmp_path: Path) -> Path:
    settings.MEDIA_ROOT = tmp_path
    return tmp_path


def take(show: Show, person: Person, **more: Any) -> Entry:
    whole: dict[str, Any] = {
        "wagon_name": "Tin Sparrow",
        "rig": RIG,
        "classes": [show.classes.all()[0].code],
        "crew": CREW,
        "at": NOW,
    }
    return enter(show=show, exhibitor=person, **{**whole, **more})


def another_show(show: Show) -> Show:
    other = ShowFactory.create()
    other.classes.create(code="trail", name="Trail wagon")
    return other


# --- Particulars ---------------------------------------------------------------------------


def test_what_is_said_beside_the_wagon_is_kept(show: Show, stranger: Person):
    EntryTerms.objects.create(show=show, emergency_asked=True)
    entry = take(
        show, stranger, frontage_ft=50, depth_ft=40, dietary_notes=" no nuts ",
        emergency_name="Eve Moor", emergency_phone="555 0100",
        crew=[CREW[0], {**CREW[1], "under_age": True}],
    )  # fmt: skip
    entry.refresh_from_db()
    assert (entry.frontage_ft, entry.depth_ft, entry.dietary_notes) == (50, 40, "no nuts")
    assert (entry.emergency_name, entry.emergency_phone) == ("Eve Moor", "555 0100")
    assert [member.under_age for member in entry.crew.all()] == [False, True]


def test_whom_to_call_is_kept_only_where_it_is_asked_for(show: Show, stranger: Person):
    entry = take(show, stranger, emergency_name="Eve Moor", emergency_phone="555 0100")
    assert (entry.emergency_name, entry.emergency_phone) == ("", "")


def test_particulars_that_make_no_sense_take_no_place(show: Show, stranger: Person):
    with pytest.raises(InvalidInput) as refused:
        take(show, stranger, frontage_ft=4, depth_ft=4000, wagon_name=" ")
    assert set(refused.value.fields) == {"frontage_ft", "depth_ft", "wagon_name"}
    assert not Entry.objects.exists()


def test_an_entry_with_a_place_is_charged_and_one_that_waits_is_not(show: Show, stranger: Person):
    Show.objects.filter(pk=show.pk).update(entry_fee_cents=7500, entry_cap=1)
    first = take(show, stranger)
    second = take(show, stranger, wagon_name="Second")
    assert (first.status, second.status) == (Status.ENTERED, Status.WAITING)
    assert list(Posting.objects.values_list("entry", flat=True)) == [first.pk]


# --- The waiver ----------------------------------------------------------------------------


@pytest.fixture
def waiver(show: Show) -> EntryTerms:
    return EntryTerms.objects.create(show=show, waiver_text="At my own risk.", waiver_version=2)


def test_agreeing_keeps_name_version_and_time(show: Show, stranger: Person, waiver: EntryTerms):
    entry = take(show, stranger, waiver_version=2, waiver_agreed_by=" Ada Moor ")
    entry.refresh_from_db()
    agreed = (entry.waiver_version, entry.waiver_agreed_by, entry.waiver_agreed_at)
    assert agreed == (2, "Ada Moor", NOW)
    assert AuditEntry.objects.get(verb="entered").after["waiver"] == "version 2, as Ada Moor"


def test_nobody_has_to_agree_at_once(show: Show, stranger: Person, waiver: EntryTerms):
    assert take(show, stranger).waiver_version is None


@pytest.mark.parametrize("read", [None, 1, 3])
def test_nobody_agrees_to_other_words(
    show: Show, stranger: Person, waiver: EntryTerms, read: int | None
):
    with pytest.raises(InvalidInput) as refused:
        take(show, stranger, waiver_version=read, waiver_agreed_by="Ada Moor")
    assert set(refused.value.fields) == {"waiver_agreed_by"}


def test_a_name_where_no_waiver_is_asked_agrees_to_nothing(show: Show, stranger: Person):
    assert take(show, stranger, waiver_version=1, waiver_agreed_by="Ada").waiver_version is None


# --- Dates ---------------------------------------------------------------------------------


def test_entries_open_and_close_by_the_shows_clock(show: Show, stranger: Person):
    opens, closes = datetime(2127, 2, 1, 15, tzinfo=UTC), datetime(2127, 4, 1, tzinfo=UTC)
    EntryTerms.objects.create(show=show, opens_at=opens, closes_at=closes)
    with pytest.raises(NotYet, match=r"open February 1, 2127, at 8:00 AM") as early:
        take(show, stranger, at=opens - timedelta(seconds=1))
    assert early.value.code == "entries-not-open"
    with pytest.raises(Gone, match="closed March 31, 2127, at 6:00 PM") as late:
        take(show, stranger, at=closes)
    assert late.value.code == "entries-closed"
    assert take(show, stranger, at=opens).pk


# --- The kept outfit -----------------------------------------------------------------------


def test_a_wagon_is_kept_for_the_next_show_and_takes_on_what_is_new(show: Show, stranger: Person):
    first = take(show, stranger, outfit="Sparrow", history="Box of 1902.", frontage_ft=50)
    other = another_show(show)
    second = take(
        other, stranger, wagon_name="tin  SPARROW", rig={**RIG, "hitch": "six_up"}, depth_ft=40
    )
    kept = Outfit.objects.get()
    assert {first.kept_outfit_id, second.kept_outfit_id} == {kept.pk}
    assert (kept.exhibitor, kept.wagon_name, kept.hitch) == (stranger, "tin  SPARROW", "six_up")
    # What the second entry left open stays as it was kept.
    assert (kept.history, kept.frontage_ft, kept.depth_ft) == ("Box of 1902.", 50, 40)
    first.refresh_from_db()
    assert first.hitch == "team", "an entry keeps its own copy"


def test_somebody_elses_wagon_of_the_same_name_is_another_outfit(show: Show, stranger: Person):
    take(show, stranger)
    take(show, PersonFactory.create())
    assert Outfit.objects.count() == 2


# --- The photo -----------------------------------------------------------------------------


def test_a_photo_is_painted_anew_and_kept_with_entry_and_outfit(
    show: Show, stranger: Person, files: Path
):
    entry = take(show, stranger, photo=talkative((400, 200)))
    assert str(entry.photo).startswith(f"entries/{show.pk}/")
    with entry.photo.open() as file:
        jpeg = file.read()
    assert set(parts_of(jpeg)) == {0xE0, 0xDB, 0xC0, 0xC4, 0xDA}
    assert MAKER[:-1] not in jpeg
    assert Image.open(BytesIO(jpeg)).size == (400, 200)
    assert str(Outfit.objects.get().photo).startswith(f"outfits/{stranger.pk}/")


def test_a_wagon_brought_before_brings_its_photo_along(show: Show, stranger: Person):
    take(show, stranger, photo=talkative())
    again = take(another_show(show), stranger)
    assert again.photo
    assert again.photo.read()[:2] == b"\xff\xd8"


@pytest.mark.parametrize("sent", [b"no picture", b"\xff" * 8_000_001], ids=["text", "too large"])
def test_what_is_no_photo_takes_no_place_and_leaves_no_file(
    show: Show, stranger: Person, files: Path, sent: bytes
):
    with pytest.raises(InvalidInput) as refused:
        take(show, stranger, photo=sent)
    assert set(refused.value.fields) == {"photo"}
    assert not Entry.objects.exists()
    assert not [path for path in files.rglob("*") if path.is_file()]


# --- The draft -----------------------------------------------------------------------------


def typed(**more: str) -> dict[str, list[str]]:
    return {name: [value] for name, value in {"wagon_name": "Tin Sparrow", **more}.items()}


def test_entering_ends_the_draft_of_this_show_only(show: Show, stranger: Person):
    other = another_show(show)
    for one in (show, other):
        save_draft(show=one, exhibitor=stranger, typed=typed(), at=NOW)
    take(show, stranger)
    assert [draft.show for draft in EntryDraft.objects.all()] == [other]


def test_a_draft_is_one_a_show_and_the_last_counts(show: Show, stranger: Person):
    save_draft(show=show, exhibitor=stranger, typed=typed(outfit="A"), at=NOW)
    later = NOW + timedelta(minutes=1)
    save_draft(show=show, exhibitor=stranger, typed=typed(), at=later)
    draft = EntryDraft.objects.get()
    assert (draft.typed, draft.saved_at) == (typed(), later)
    discard_draft(show=show, exhibitor=PersonFactory.create())
    assert EntryDraft.objects.exists()
    discard_draft(show=show, exhibitor=stranger)
    assert not EntryDraft.objects.exists()


def test_a_save_that_comes_late_brings_no_entered_wagon_back(show: Show, stranger: Person):
    take(show, stranger)
    with pytest.raises(Conflict):
        save_draft(show=show, exhibitor=stranger, typed=typed(wagon_name="tin sparrow"), at=NOW)
    assert not EntryDraft.objects.exists()


def test_a_closed_show_keeps_no_draft(show: Show, stranger: Person):
    EntryTerms.objects.create(show=show, closes_at=NOW)
    with pytest.raises(Gone):
        save_draft(show=show, exhibitor=stranger, typed=typed(), at=NOW)


def test_a_kept_outfit_comes_into_the_draft(show: Show, stranger: Person):
    take(another_show(show), stranger, history="Box of 1902.", frontage_ft=50)
    kept = Outfit.objects.get()
    draft = save_draft(
        show=show, exhibitor=stranger, typed=typed(wagon_name="x", crew_name_1="Ada"),
        outfit_id=kept.pk, at=NOW,
    )  # fmt: skip
    assert draft.typed == {
        "wagon_name": ["Tin Sparrow"],
        "crew_name_1": ["Ada"],
        "history": ["Box of 1902."],
        "frontage_ft": ["50"],
        **{name: [value] for name, value in RIG.items()},
    }


def test_nobody_brings_somebody_elses_outfit(show: Show, stranger: Person):
    take(another_show(show), PersonFactory.create())
    with pytest.raises(NotFound):
        save_draft(
            show=show, exhibitor=stranger, typed={}, outfit_id=Outfit.objects.get().pk, at=NOW
        )
    EntryFactory.create(show=show)
    assert not EntryDraft.objects.exists()
