"""A phone sends its judge's photos and fetches them again; nobody else's."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.conf import settings as configured
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.client import BOUNDARY, MULTIPART_CONTENT, encode_multipart
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from PIL import Image
from rest_framework.throttling import ScopedRateThrottle

from judging.actions.pair_device import shut_out_device
from judging.actions.remove_photo import remove_photo
from judging.models import Judge, RoundPhoto
from judging.queries.round import round_bundle
from judging.rules.round.photo_limits import PER_CARD
from showrun.shows.models import Show
from showrun.shows.rules.photos import BYTES_MAX
from tests.http_phone import Phone, first_entry
from tests.judged_show import AT, build_show, entry_of, judge_of, office_of, open_window, rows_of
from tests.pictures import MAKER, PLACE, jpeg_claiming, parts_of, picture, talkative
from tests.problems import problem

pytestmark = pytest.mark.django_db
PHOTOS = "/api/v1/device/photos"


@pytest.fixture(autouse=True)
def files(settings: Any, tmp_path: Path) -> Path:
    settings.MEDIA_ROOT = tmp_path
    return tmp_path


def kept_files(files: Path) -> list[Path]:
    return [path for path in files.rglob("*") if path.is_file()]


def upload(phone: Phone, sent: bytes = b"", name: str = "wheel.jpg", **more: Any) -> Any:
    """Send a photo as the phone does; a field that is None is left out."""
    file = SimpleUploadedFile(name, sent or picture(), "image/jpeg")
    told = {"id": uuid4(), "entry": first_entry(phone.device.judge).pk, "photo": file, **more}
    fields = {key: value for key, value in told.items() if value is not None}
    return phone.http.post(PHOTOS, fields, headers=phone.headers)


def fetch(phone: Phone, photo_id: object, **headers: str) -> Any:
    return phone.http.get(f"{PHOTOS}/{photo_id}", headers={**phone.headers, **headers})


# --- Sending and fetching ------------------------------------------------------------------


def test_a_photo_is_taken_told_back_and_fetched(phone: Phone):
    photo_id = uuid4()
    answered = upload(phone, picture(size=(3200, 1000)), id=photo_id)
    assert answered.status_code == 201, answered.content
    body = answered.json()
    assert body == {
        "id": str(photo_id),
        "width": 1600,
        "height": 500,
        "size_bytes": RoundPhoto.objects.get().size_bytes,
    }
    found = fetch(phone, photo_id)
    image = b"".join(found.streaming_content)
    assert found.status_code == 200
    assert found["Content-Type"] == "image/jpeg"
    assert found["Cache-Control"] == "private, no-store"
    assert found["X-Content-Type-Options"] == "nosniff"
    assert len(image) == body["size_bytes"]
    assert Image.open(BytesIO(image)).size == (1600, 500)


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_other_kinds_come_back_as_jpeg_whatever_is_asked_for(phone: Phone, kind: str):
    taken = upload(phone, picture(kind), "anything.bin")
    assert taken.status_code == 201
    for wanted in ("image/jpeg", "image/*", "text/html", "*/*"):
        found = fetch(phone, taken.json()["id"], accept=wanted)
        assert b"".join(found.streaming_content)[:3] == b"\xff\xd8\xff"


def test_the_kept_photo_says_nothing_of_place_and_phone(phone: Phone):
    sent = talkative((300, 200), orientation=6)
    assert PLACE in sent
    taken = upload(phone, sent).json()
    assert (taken["width"], taken["height"]) == (200, 300)
    kept = b"".join(fetch(phone, taken["id"]).streaming_content)
    assert set(parts_of(kept)) == {0xE0, 0xDB, 0xC0, 0xC4, 0xDA}
    assert PLACE not in kept
    assert MAKER[:-1] not in kept


def test_the_same_photo_again_is_answered_the_same(phone: Phone):
    photo_id, sent = uuid4(), picture()
    first, again = (upload(phone, sent, id=photo_id) for _ in range(2))
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == again.json()
    problem(upload(phone, picture("PNG"), id=photo_id), 409, "photo-id-reused")
    assert RoundPhoto.objects.count() == 1


def test_the_round_tells_the_limits_and_the_judges_own_photos(phone: Phone, show: Show):
    judge, entry = phone.device.judge, first_entry(phone.device.judge)
    row = rows_of(judge, entry)[0]
    bundle = phone.round().json()
    assert bundle["photos"] == {"per_card": PER_CARD, "max_px": 1600}
    assert {tuple(visit["photos"]) for visit in bundle["visits"]} == {()}
    known = phone.round()["ETag"]
    mine = upload(phone, criterion=row.code).json()["id"]
    whole = upload(phone).json()["id"]
    other = Judge.objects.filter(seats__entry=entry).exclude(pk=judge.pk)[0]
    assert upload(Phone(other), entry=entry.pk).status_code == 201
    visits = phone.round(**{"if-none-match": known}).json()["visits"]
    told = {visit["entry"]["id"]: visit["photos"] for visit in visits}
    assert told.pop(entry.pk) == [
        {"id": mine, "criterion": row.code},
        {"id": whole, "criterion": ""},
    ]
    assert not any(told.values())


def test_all_photos_of_a_round_are_read_at_once(phone: Phone):
    device = phone.device
    with CaptureQueriesContext(connection) as without:
        round_bundle(device, at=AT)
    for entry_id in set(device.judge.seats.values_list("entry", flat=True)):
        for _ in range(2):
            assert upload(phone, entry=entry_id).status_code == 201
    with CaptureQueriesContext(connection) as with_photos:
        round_bundle(device, at=AT)
    assert len(with_photos) == len(without)
    assert sum("judging_roundphoto" in one["sql"] for one in with_photos) == 1


# --- Refusals ------------------------------------------------------------------------------


def refused(phone: Phone, files: Path, answered: Any, status: int, code: str) -> dict[str, Any]:
    assert not RoundPhoto.objects.filter(device=phone.device).exists()
    assert kept_files(files) == []
    return problem(answered, status, code)


SVG = b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'
UNREADABLE = {
    "empty": (b"\0", "wheel.jpg"),
    "text": (b"A text that calls itself a photo.", "wheel.jpg"),
    "svg": (SVG, "wheel.svg"),
    "cut": (picture(size=(300, 200))[:-300], "wheel.jpg"),
    "bomb": (jpeg_claiming(30_000, 30_000), "wheel.jpg"),
}


@pytest.mark.parametrize(("sent", "name"), UNREADABLE.values(), ids=UNREADABLE)
def test_what_is_no_photo_is_refused(phone: Phone, files: Path, sent: bytes, name: str):
    refused(phone, files, upload(phone, sent, name), 422, "photo-unreadable")


def test_an_empty_file_is_no_photo(phone: Phone, files: Path):
    nothing = SimpleUploadedFile("wheel.jpg", b"", "image/jpeg")
    refused(phone, files, upload(phone, photo=nothing), 422, "photo-unreadable")


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("id", None),
        ("id", "seven"),
        ("entry", None),
        ("entry", "two"),
        ("entry", 10**30),
        ("photo", None),
        ("photo", "no file"),
        ("criterion", "x" * 81),
        ("criterion", "a\0b"),
    ],
)
def test_a_form_that_lacks_something_says_what(phone: Phone, files: Path, field: str, value: Any):
    body = refused(phone, files, upload(phone, **{field: value}), 422, "invalid-input")
    assert set(body["errors"]) == {field}


def test_wagons_and_rows_of_others_take_no_photo(phone: Phone, files: Path, show: Show):
    mine = set(phone.device.judge.seats.values_list("entry", flat=True))
    elsewhere = build_show(slug="other-ground", n_entries=2)
    open_window(elsewhere)
    for entry_id in (entry_of(elsewhere, 1).pk, 10**9):
        assert entry_id not in mine
        refused(phone, files, upload(phone, entry=entry_id), 404, "not-your-card")
    refused(phone, files, upload(phone, criterion="no_such_row"), 422, "criterion-not-yours")


def test_a_wagon_another_judge_looks_at_takes_none_of_this_judge(show: Show, files: Path):
    """J2 is kin to wagon 1 and has no seat there."""
    kin = Phone(judge_of(show, "J2"))
    answered = upload(kin, entry=entry_of(show, 1).pk)
    refused(kin, files, answered, 404, "not-your-card")


def test_a_full_card_takes_another_once_the_office_removed_one(phone: Phone, show: Show):
    for _ in range(PER_CARD):
        assert upload(phone).status_code == 201
    problem(upload(phone), 409, "photos-full")
    photo = RoundPhoto.objects.first()
    assert photo
    remove_photo(photo=photo, reason="A face.", by=office_of(show), at=AT)
    assert upload(phone).status_code == 201
    problem(fetch(phone, photo.pk), 404, "not-found")


# --- Whose -----------------------------------------------------------------------------------


def test_only_the_judge_who_took_it_fetches_a_photo(phone: Phone, show: Show):
    photo_id = upload(phone).json()["id"]
    elsewhere = build_show(slug="other-ground", n_entries=1)
    open_window(elsewhere)
    assert fetch(Phone(phone.device.judge), photo_id).status_code == 200, "on a second phone"
    for other in (judge_of(show, "J3"), judge_of(elsewhere, "J1")):
        problem(fetch(Phone(other), photo_id), 404, "not-found")
        problem(
            upload(Phone(other), id=photo_id, entry=first_entry(other).pk), 409, "photo-id-reused"
        )
    problem(fetch(phone, uuid4()), 404, "not-found")


def test_without_a_token_there_is_nothing(phone: Phone, show: Show):
    photo_id = upload(phone).json()["id"]
    office = Client()
    office.force_login(office_of(show))
    for client in (Client(), office):
        assert client.get(f"{PHOTOS}/{photo_id}").status_code == 401
        assert client.post(PHOTOS, {"photo": SimpleUploadedFile("a", b"b")}).status_code == 401


def test_a_phone_shut_out_sends_and_fetches_no_more(phone: Phone, show: Show):
    photo_id = upload(phone).json()["id"]
    shut_out_device(device=phone.device, by=office_of(show), at=timezone.now(), reason="Lost.")
    problem(upload(phone), 401, "device-shut-out")
    problem(fetch(phone, photo_id), 401, "device-shut-out")
    assert RoundPhoto.objects.count() == 1


def test_a_lost_file_is_told_as_such(phone: Phone, files: Path):
    photo_id = upload(phone).json()["id"]
    (file,) = kept_files(files)
    file.unlink()
    assert "lost" in problem(fetch(phone, photo_id), 404, "not-found")["detail"]


# --- How much is read ------------------------------------------------------------------------


class Pipe(BytesIO):
    """A body that remembers how much of it was read."""

    def __init__(self, body: bytes) -> None:
        super().__init__(body)
        self.taken = 0

    def read(self, size: int | None = -1) -> bytes:
        chunk = super().read(size)
        self.taken += len(chunk)
        return chunk


def post_raw(phone: Phone, body: bytes, *, says: int | None = None) -> tuple[Any, Pipe]:
    pipe = Pipe(body)
    stream: Any = {"wsgi.input": pipe}
    answered = phone.http.generic(
        "POST",
        PHOTOS,
        headers=phone.headers,
        CONTENT_TYPE=MULTIPART_CONTENT,
        CONTENT_LENGTH=str(len(body) if says is None else says),
        **stream,
    )
    return answered, pipe


def form(phone: Phone, sent: bytes) -> bytes:
    entry = first_entry(phone.device.judge).pk
    file = SimpleUploadedFile("wheel.jpg", sent, "image/jpeg")
    return encode_multipart(BOUNDARY, {"id": uuid4(), "entry": entry, "photo": file})


def test_a_body_that_says_it_is_too_large_is_not_read(phone: Phone, files: Path):
    answered, pipe = post_raw(phone, form(phone, picture()), says=BYTES_MAX * 2)
    refused(phone, files, answered, 413, "photo-too-large")
    assert pipe.taken == 0


def test_a_photo_a_byte_too_long_is_refused_by_its_real_bytes(phone: Phone, files: Path):
    answered, _ = post_raw(phone, form(phone, picture().ljust(BYTES_MAX + 1, b"\0")))
    refused(phone, files, answered, 413, "photo-too-large")


def test_a_photo_of_just_the_limit_is_taken(phone: Phone):
    answered, pipe = post_raw(phone, form(phone, picture().ljust(BYTES_MAX, b"\0")))
    assert answered.status_code == 201, answered.content
    assert pipe.taken > BYTES_MAX


def test_a_body_that_says_less_than_it_is_is_read_no_further(phone: Phone, files: Path):
    body = form(phone, picture(size=(300, 200)))
    answered, pipe = post_raw(phone, body, says=len(body) // 2)
    assert answered.status_code in (400, 422), answered.content
    assert pipe.taken <= len(body) // 2
    assert not RoundPhoto.objects.exists()


@pytest.mark.parametrize(
    ("body", "kind", "status"),
    [
        (b"{}", "application/json", 415),
        (b"\xff\xd8\xff", "image/jpeg", 415),
        (b"no form at all", MULTIPART_CONTENT, 422),
        (b"no form at all", "multipart/form-data", 400),
        (b"", MULTIPART_CONTENT, 422),
    ],
)
def test_a_body_that_is_no_form_is_refused(
    phone: Phone, files: Path, body: bytes, kind: str, status: int
):
    answered = phone.http.generic("POST", PHOTOS, body, kind, headers=phone.headers)
    assert answered.status_code == status, answered.content
    assert answered["Content-Type"] == "application/problem+json"


def test_a_form_of_thousands_of_fields_is_refused(phone: Phone, files: Path):
    many = {f"field{number}": "x" for number in range(1001)}
    answered = phone.http.post(PHOTOS, many, headers=phone.headers)
    assert answered.status_code == 400
    assert answered["Content-Type"] == "application/problem+json"


def test_a_phone_that_never_stops_sending_is_told_to_wait(
    phone: Phone, monkeypatch: pytest.MonkeyPatch
):
    rates = dict(configured.REST_FRAMEWORK["DEFAULT_THROTTLE_RATES"])
    assert "photos" in rates
    monkeypatch.setattr(ScopedRateThrottle, "THROTTLE_RATES", {**rates, "photos": "3/min"})
    codes = [upload(phone, b"no photo").status_code for _ in range(4)]
    assert codes == [422, 422, 422, 429]
    assert phone.round().status_code == 200
