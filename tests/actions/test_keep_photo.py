"""A photo is kept once, with its file or not at all; the office removes it with a reason."""

from __future__ import annotations

import hashlib
from io import BytesIO
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.core.files.storage import FileSystemStorage
from django.db import IntegrityError
from PIL import Image

from judging.actions import keep_photo as module
from judging.actions.keep_photo import Kept, PhotoTooLarge, keep_photo
from judging.actions.remove_photo import remove_photo
from judging.models import CardMark, Device, Judge, RoundPhoto
from judging.queries.photos import photos_by_entry, photos_of, with_rows
from judging.rules.round.photo_limits import PER_CARD
from showrun.errors import Conflict, InvalidInput, NotFound
from showrun.shows.actions.shrink_photo import shrink_photo
from showrun.shows.models import AuditEntry
from showrun.shows.rules.photos import BYTES_MAX
from tests.http_phone import first_entry
from tests.judged_show import (
    AT,
    build_show,
    card_events,
    draw_panel,
    entry_of,
    judge_of,
    office_of,
    pair,
    rows_of,
    send,
)
from tests.pictures import picture

pytestmark = pytest.mark.django_db
SENT = picture(size=(320, 200))


@pytest.fixture(autouse=True)
def files(settings: Any, tmp_path: Path) -> Path:
    settings.MEDIA_ROOT = tmp_path
    return tmp_path


@pytest.fixture
def device() -> Device:
    show = build_show(n_entries=3)
    draw_panel(show)
    return pair(judge_of(show, "J1"))[0]


def keep(device: Device, sent: bytes = SENT, **more: Any) -> Kept:
    told = {"photo_id": uuid4(), "entry_id": first_entry(device.judge).pk, "at": AT}
    return keep_photo(device=device, sent=sent, **{**told, **more})


def kept_files(files: Path) -> list[Path]:
    return [path for path in files.rglob("*") if path.is_file()]


# --- Keeping -------------------------------------------------------------------------------


def test_a_photo_is_kept_as_a_small_picture_of_its_own(device: Device, files: Path):
    row = rows_of(device.judge, first_entry(device.judge))[0]
    photo_id = uuid4()
    kept = keep(device, photo_id=photo_id, criterion=row.code)
    photo = RoundPhoto.objects.get()
    assert kept.new
    assert (photo.pk, photo.criterion, photo.judge) == (photo_id, row.code, device.judge)
    assert (photo.width, photo.height, photo.received_at) == (320, 200, AT)
    assert photo.sent_hash == hashlib.sha256(SENT).hexdigest()
    (file,) = kept_files(files)
    assert file.name == f"{photo_id}.jpg"
    assert file.stat().st_size == photo.size_bytes
    assert Image.open(BytesIO(file.read_bytes())).size == (320, 200)


def test_the_same_photo_again_changes_nothing(device: Device, files: Path):
    photo_id = uuid4()
    first = keep(device, photo_id=photo_id)
    (file,) = kept_files(files)
    before = file.read_bytes()
    again = keep(device, photo_id=photo_id, entry_id=10**9)  # what it is of was said already
    assert (first.new, again.new, again.photo) == (True, False, first.photo)
    assert kept_files(files) == [file]
    assert file.read_bytes() == before


def test_an_id_names_one_photo_only(device: Device, files: Path):
    photo_id = uuid4()
    keep(device, photo_id=photo_id)
    (file,) = kept_files(files)
    before = file.read_bytes()
    another = pair(judge_of(device.judge.show, "J3"))[0]
    for phone, sent in ((device, picture("PNG")), (another, SENT)):
        with pytest.raises(Conflict) as refused:
            keep(phone, sent, photo_id=photo_id)
        assert refused.value.code == "photo-id-reused"
    assert file.read_bytes() == before


def test_a_second_phone_of_the_judge_may_send_it_once_more(device: Device):
    photo_id = uuid4()
    keep(device, photo_id=photo_id)
    other = pair(device.judge)[0]
    assert not keep(other, photo_id=photo_id).new


def test_a_photo_is_taken_after_the_card_was_handed_in_and_changes_no_mark(device: Device):
    entry = first_entry(device.judge)
    send(device, card_events(device.judge, entry))
    before = list(CardMark.objects.values_list("pk", "value", "version"))
    assert before
    assert keep(device).new
    assert list(CardMark.objects.values_list("pk", "value", "version")) == before


# --- Refusals ------------------------------------------------------------------------------


def test_only_wagons_and_rows_of_the_judge_take_photos(device: Device, files: Path):
    elsewhere = entry_of(build_show(slug="other-ground", n_entries=1), 1)
    for entry_id in (elsewhere.pk, 10**9):
        with pytest.raises(NotFound) as refused:
            keep(device, entry_id=entry_id)
        assert refused.value.code == "not-your-card"
    for row in ("no_such_row", "RG_WHEELS", " "):
        with pytest.raises(InvalidInput) as fault:
            keep(device, criterion=row)
        assert fault.value.code == "criterion-not-yours"
    assert not RoundPhoto.objects.exists()
    assert kept_files(files) == []


def test_a_row_of_a_section_the_judge_does_not_have_here_takes_none(device: Device):
    judge, entry = device.judge, first_entry(device.judge)
    row = rows_of(judge, entry)[0]
    assert keep(device, criterion=row.code).new
    judge.seats.filter(entry=entry, section=row.section).delete()
    judge.seats.create(entry=entry, section=_another_section(row.section))
    with pytest.raises(InvalidInput):
        keep(device, criterion=row.code)


def _another_section(section: Any) -> Any:
    return section.scorecard.sections.exclude(pk=section.pk)[0]


def test_a_photo_too_large_is_refused_before_it_is_looked_at(
    device: Device, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(module, "shrink_photo", lambda sent: pytest.fail("it was opened"))
    with pytest.raises(PhotoTooLarge):
        keep(device, SENT + bytes(BYTES_MAX))


def test_a_card_takes_six_and_a_removed_one_frees_its_place(device: Device):
    kept = [keep(device).photo for _ in range(PER_CARD)]
    with pytest.raises(Conflict) as refused:
        keep(device)
    assert refused.value.code == "photos-full"
    other = device.judge.seats.exclude(entry=first_entry(device.judge)).first()
    assert other is not None
    assert keep(device, entry_id=other.entry_id).new, "another card has places of its own"
    remove_photo(photo=kept[2], reason="A face.", by=office_of(device.judge.show), at=AT)
    assert keep(device).new


def test_two_of_its_phones_cannot_fill_the_last_place_twice(
    device: Device, monkeypatch: pytest.MonkeyPatch
):
    """The second comes while the first photo is being made small."""
    for _ in range(PER_CARD - 1):
        keep(device)

    def slowly(sent: bytes) -> Any:
        monkeypatch.setattr(module, "shrink_photo", shrink_photo)
        keep(device)
        return shrink_photo(sent)

    monkeypatch.setattr(module, "shrink_photo", slowly)
    with pytest.raises(Conflict):
        keep(device)
    assert RoundPhoto.objects.count() == PER_CARD


# --- Row and file, or neither --------------------------------------------------------------


def test_a_disk_that_fails_half_way_leaves_neither_row_nor_file(
    device: Device, files: Path, monkeypatch: pytest.MonkeyPatch
):
    save = FileSystemStorage.save

    def full(self: FileSystemStorage, *args: Any, **more: Any) -> str:
        save(self, *args, **more)
        raise OSError("No space left on device")

    monkeypatch.setattr(FileSystemStorage, "save", full)
    with pytest.raises(OSError, match="No space"):
        keep(device)
    assert not RoundPhoto.objects.exists()
    assert kept_files(files) == []


@pytest.mark.django_db(transaction=True)
def test_a_commit_that_fails_leaves_no_file(
    device: Device, files: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(module, "_demand_place", lambda *told: None)
    seen: list[list[Path]] = []
    save = FileSystemStorage.save

    def watched(self: FileSystemStorage, *args: Any, **more: Any) -> str:
        name = save(self, *args, **more)
        seen.append(kept_files(files))
        return name

    monkeypatch.setattr(FileSystemStorage, "save", watched)
    with pytest.raises(IntegrityError):  # the database looks at links when it commits
        keep(device, entry_id=10**9)
    assert len(seen[0]) == 1
    assert kept_files(files) == []
    assert not RoundPhoto.objects.exists()


def test_what_a_dead_process_left_behind_is_written_over(device: Device, files: Path):
    photo_id = uuid4()
    show_id = device.judge.show_id
    left = files / "round-photos" / str(show_id) / f"{photo_id}.jpg"
    left.parent.mkdir(parents=True)
    left.write_bytes(b"half a pic")
    photo = keep(device, photo_id=photo_id).photo
    assert kept_files(files) == [left]
    assert left.stat().st_size == photo.size_bytes


# --- Removing ------------------------------------------------------------------------------


def test_a_removed_photo_is_gone_with_its_file_and_the_record_says_why(
    device: Device, files: Path, django_capture_on_commit_callbacks: Any
):
    photo, other = keep(device).photo, keep(device).photo
    office = office_of(device.judge.show)
    with django_capture_on_commit_callbacks() as after:
        remove_photo(photo=photo, reason="  A child’s face. ", by=office, at=AT)
    assert len(kept_files(files)) == 2, "not before it is certain"
    for callback in after:
        callback()
    assert [path.stem for path in kept_files(files)] == [str(other.pk)]
    assert list(RoundPhoto.objects.all()) == [other]
    line = AuditEntry.objects.get(verb="removed")
    assert (line.actor, line.reason, line.show) == (office, "A child’s face.", device.judge.show)
    assert str(first_entry(device.judge)) in line.subject
    assert line.before["photo"] == str(photo.pk)


@pytest.mark.parametrize("reason", ["", "   "])
def test_no_photo_is_removed_without_a_reason(device: Device, files: Path, reason: str):
    photo = keep(device).photo
    with pytest.raises(InvalidInput) as refused:
        remove_photo(photo=photo, reason=reason, by=office_of(device.judge.show), at=AT)
    assert "reason" in refused.value.fields
    assert RoundPhoto.objects.exists()
    assert not AuditEntry.objects.filter(verb="removed").exists()


def test_removed_by_two_at_once_it_is_recorded_once(device: Device):
    photo = keep(device).photo
    for twin in (photo, RoundPhoto.objects.get()):
        remove_photo(photo=twin, reason="Blurred.", by=office_of(device.judge.show), at=AT)
    assert AuditEntry.objects.filter(verb="removed").count() == 1


# --- Reading -------------------------------------------------------------------------------


def test_photos_are_read_by_card_for_the_judge_and_by_wagon_for_the_office(device: Device):
    judge, entry = device.judge, first_entry(device.judge)
    row = rows_of(judge, entry)[0]
    one, two = keep(device, criterion=row.code).photo, keep(device).photo
    theirs = pair(_another_at(entry, judge))[0]
    other = keep(theirs, entry_id=entry.pk).photo
    mine = photos_by_entry(judge)[entry.pk]
    assert {line["id"]: line["criterion"] for line in mine} == {
        str(one.pk): row.code,
        str(two.pk): "",
    }
    lines = with_rows(judge.show, photos_of(judge.show))
    assert {line.photo: line.row for line in lines} == {one: row.name, two: "", other: ""}


def _another_at(entry: Any, judge: Judge) -> Judge:
    found = Judge.objects.filter(seats__entry=entry).exclude(pk=judge.pk).first()
    assert found is not None
    return found
