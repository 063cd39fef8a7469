"""A whole show taken out and brought back: beside the original, and where nothing is left of it."""

from __future__ import annotations

import hashlib
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from uuid import UUID

import pytest
from django.db import transaction
from django.db.models import Sum
from django.test import override_settings

from entries.actions.charge_entry import charge_entry
from entries.models import Animal, Entry, OnlinePayment, Outfit, Posting, PostingLine
from judging.models import Device, PaperCard, Question, Result, RoundEvent, Season, SeasonClass
from judging.queries.devices import device_by_token, hash_of
from judging.queries.panel_marks import panel_marks
from judging.queries.replay import Replay
from judging.queries.verified import differences, results_of
from judging.rules.results.question_words import asked_about
from judging.rules.round.card_hash import plain_number
from judging.rules.round.events import body_hash
from reports.actions.check_archive import open_archive
from reports.actions.export_show import write_archive
from reports.actions.restore_show import restore_show
from reports.models import Paper
from reports.queries.purses import purses_of
from reports.queries.show_tables import PERSON, show_tables
from reports.rules.code import read_code
from showrun.errors import Conflict
from showrun.shows.models import AuditEntry, Person, Show
from tests import archive_stage as stage
from tests.archive_keys import demand_keys_of
from tests.judged_show import AT, build_show, class_of, entry_of, office_of
from tests.kept import kept_for_module

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def show(
    django_db_setup: None, django_db_blocker: object, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Show]:
    """The show, built once; its files lie in a folder of their own."""
    files = tmp_path_factory.mktemp("files")
    with override_settings(MEDIA_ROOT=files), kept_for_module(django_db_blocker):
        yield stage.everything()


@pytest.fixture(scope="module")
def path(show: Show, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The show's archive."""
    return stage.archived(show, tmp_path_factory.mktemp("archive") / "show.zip")


def restored(path: Path, as_slug: str | None = None) -> Show:
    with open_archive(path) as archive:
        return restore_show(archive=archive, as_slug=as_slug, at=AT).show


@pytest.fixture
def copy(show: Show, path: Path) -> Show:
    """The show brought back beside the original."""
    return restored(path, "copy")


@pytest.fixture
def moved(show: Show, path: Path, tmp_path: Path) -> Iterator[Show]:
    """The show brought back where nothing is left, not even its files."""
    with transaction.atomic(), override_settings(MEDIA_ROOT=tmp_path / "elsewhere"):
        stage.empty_the_instance()
        yield restored(path)
        transaction.set_rollback(True)


@pytest.fixture(params=["copy", "moved"])
def back(request: pytest.FixtureRequest) -> Show:
    """The show brought back either way."""
    found: Show = request.getfixturevalue(request.param)
    return found


# --- All of it -------------------------------------------------------------------------------


def test_the_stage_has_a_row_in_every_table(path: Path) -> None:
    empty = [table for table, rows in stage.rows_in(path).items() if not rows]
    assert empty == [], "write such rows in tests/archive_stage.py"


def test_every_row_comes_back_and_says_the_same(path: Path, back: Show, tmp_path: Path) -> None:
    before, after = (
        stage.normalised(path),
        stage.normalised(stage.archived(back, tmp_path / "again.zip")),
    )
    told = after["shows.auditentry"].pop()
    assert (told["verb"], told["after"]["was_at"]) == ("restored", "three-kettles")
    for table in before:
        assert after[table] == before[table], table
    assert after.keys() == before.keys()


def test_results_are_those_that_the_events_give(show: Show, back: Show) -> None:
    assert list(differences(back)) == []
    assert results_of(back) == 2


def test_no_key_of_the_archive_is_given_again(path: Path, back: Show, tmp_path: Path) -> None:
    """Those that are printed or were made outside stay where nobody has them; see below."""
    before, after = stage.rows_in(path), stage.rows_in(stage.archived(back, tmp_path / "b.zip"))
    shared = {table.name for table in show_tables() if table.shared} | {PERSON}
    for table in before.keys() - shared - {"judging.papercard"}:
        if isinstance(before[table][0]["id"], int):
            old, new = ({row["id"] for row in rows[table]} for rows in (before, after))
            assert max(old) < min(new), table


def test_files_come_back_with_the_same_content(path: Path, back: Show) -> None:
    with zipfile.ZipFile(path) as packed:
        wanted = {
            hashlib.sha256(packed.read(name)).hexdigest()
            for name in packed.namelist()
            if name.startswith("files/")
        }
    entry = Entry.objects.get(show=back, number=1)
    assert entry.kept_outfit
    papers = [paper.file for paper in Paper.objects.filter(show=back, state="done")]
    found = {
        hashlib.sha256(file.open("rb").read()).hexdigest()
        for file in (*papers, entry.photo, entry.kept_outfit.photo)
    }
    assert len(papers) == 3 and len(found) == 5
    assert found <= wanted and len(wanted) == 6  # and the photo of the round
    assert f"entries/{back.pk}/" in str(entry.photo.name)
    assert all(str(file.name).startswith(f"papers/{back.pk}/") for file in papers)


def test_the_ledger_comes_to_the_same_and_nothing_is_posted_again(back: Show) -> None:
    lines = PostingLine.objects.filter(posting__show=back)
    assert lines.aggregate(sum=Sum("amount_cents"))["sum"] == 0
    postings = Posting.objects.filter(show=back)
    for posting in postings:
        assert posting.lines.aggregate(sum=Sum("amount_cents"))["sum"] == 0
    count, entry = len(postings), Entry.objects.get(show=back, number=1)
    charge_entry(entry=entry, by=None, at=AT)
    assert Posting.objects.filter(show=back).count() == count
    # The purse that was paid and taken back is known as both: the next one is another turn.
    purse = postings.get(kind="purse")
    result = Result.objects.get(show_class=class_of(back))
    result.placings.filter(entry=entry).update(purse_cents=5000)
    (line,) = purses_of(result)
    assert line.next_key not in (purse.key, None) and line.left == 5000


def test_touches_fit_their_fingerprints_and_go_by_the_new_keys(back: Show) -> None:
    entries = set(Entry.objects.filter(show=back).values_list("pk", flat=True))
    for event in RoundEvent.objects.filter(show=back):
        assert body_hash(event.body) == event.body_hash
        assert UUID(event.body["id"]) == event.pk
        assert event.body["entry"] in entries or event.body["entry"] == -stage.UNKNOWN


def test_keys_inside_json_are_of_this_show(back: Show) -> None:
    demand_keys_of(back)


def test_what_was_asked_once_is_not_asked_again(back: Show) -> None:
    panel, entries = panel_marks(back), Entry.objects.filter(show=back)
    card = Question.objects.get(judge__show=back, kind="cards")
    assert card.entry in entries
    assert card.asked_about == panel.fingerprint(card.judge_id, [card.entry_id or 0])
    day = Question.objects.get(judge__show=back, kind="day")
    assert day.asked_about == panel.fingerprint(day.judge_id)
    mark = Question.objects.get(judge__show=back, kind="marks")
    assert mark.criterion
    about = [(mark.entry_id or 0, mark.criterion.code, plain_number(mark.value))]
    assert mark.asked_about == asked_about(about)


def test_no_phone_is_let_in_by_an_archive(show: Show, back: Show) -> None:
    phones = Device.objects.filter(judge__show=back).phones()
    assert phones and all(len(one.token_hash) < 64 for one in phones)
    assert all("restored" in one.token_hash for one in phones)
    paper = Device.objects.filter(judge__show=back).exclude(pk__in=phones)
    assert [one.token_hash for one in paper] == [f"paper of judge {one.judge_id}" for one in paper]
    known = device_by_token(stage.Secrets.token)
    assert known is None or known.judge.show_id != back.pk


# --- Beside the original ---------------------------------------------------------------------


def test_the_original_stays_as_it_was(show: Show, path: Path, copy: Show, tmp_path: Path) -> None:
    assert stage.archived(show, tmp_path / "b.zip").read_bytes() == path.read_bytes()
    assert list(differences(show)) == []


def test_a_printed_code_goes_on_meaning_the_original(show: Show, copy: Show) -> None:
    here, there = (list(Paper.objects.filter(show=one).order_by("pk")) for one in (show, copy))
    assert not {paper.code for paper in here} & {paper.code for paper in there}
    for paper in there:
        assert read_code(paper.code) == paper.code
    numbers = [set(PaperCard.objects.filter(judge__show=one).values_list("pk", flat=True))
               for one in (show, copy)]  # fmt: skip
    assert not numbers[0] & numbers[1]


def test_the_same_copy_has_the_same_ids(show: Show, path: Path) -> None:
    def ids(slug: str) -> list[object]:
        with transaction.atomic():
            made = restored(path, slug)
            events = RoundEvent.objects.filter(show=made).values_list("pk", flat=True)
            keys = Posting.objects.filter(show=made, kind="payment").values_list("key", flat=True)
            codes = Paper.objects.filter(show=made).values_list("code", flat=True)
            paid = OnlinePayment.objects.filter(entry__show=made).values_list("reference")
            found = [sorted(events), list(keys), sorted(codes), list(paid)]
            transaction.set_rollback(True)
        return found

    assert ids("copy") == ids("copy")
    assert all(one != other for one, other in zip(ids("copy"), ids("other"), strict=True))


def test_a_copy_counts_in_a_season_of_its_own(show: Show, copy: Show) -> None:
    assert Season.objects.count() == 2
    assert [row.show_class.show for row in SeasonClass.objects.order_by("pk")] == [show, copy]
    assert Season.objects.get(classes__show_class__show=copy).slug == "lantern-season-copy"


def test_a_taken_address_is_refused(show: Show, path: Path) -> None:
    people = Person.objects.count()
    with pytest.raises(Conflict, match="There is a show at “three-kettles” already"):
        restored(path)
    assert (Show.objects.count(), Person.objects.count()) == (2, people)


def test_who_and_what_is_here_stays_as_it_is(show: Show, path: Path) -> None:
    cook = entry_of(show, 1).exhibitor
    with transaction.atomic():
        Person.objects.filter(pk=cook.pk).update(name="Renamed", email=cook.email.upper())
        Outfit.objects.filter(exhibitor=cook).update(history="Repainted.")
        count = Person.objects.count(), Outfit.objects.count()
        copy = restored(path, "copy")
        assert (Person.objects.count(), Outfit.objects.count()) == count
        entry = entry_of(copy, 1)
        assert (entry.exhibitor_id, entry.exhibitor.name) == (cook.pk, "Renamed")
        assert entry.kept_outfit and entry.kept_outfit.history == "Repainted."
        transaction.set_rollback(True)


# --- Where nothing is left -------------------------------------------------------------------


def test_what_is_known_outside_stays_as_it_was(path: Path, moved: Show, tmp_path: Path) -> None:
    before, after = stage.rows_in(path), stage.rows_in(stage.archived(moved, tmp_path / "b.zip"))

    def column(rows: dict[str, list[dict[str, object]]], table: str, name: str) -> set[object]:
        return {row[name] for row in rows[table]}

    for table, name in (
        ("judging.roundevent", "id"),
        ("judging.roundphoto", "id"),
        ("judging.papercard", "id"),
        ("reports.paper", "code"),
        ("entries.onlinepayment", "reference"),
        ("judging.season", "slug"),
        ("shows.show", "slug"),
    ):
        assert column(after, table, name) == column(before, table, name), table
    random = [row["key"] for row in before["entries.posting"] if row["kind"] in ("payment",)]
    assert set(random) < column(after, "entries.posting", "key")


def test_the_next_paper_card_gets_a_number_of_its_own(moved: Show) -> None:
    there = PaperCard.objects.filter(judge__show=moved).latest("pk")
    other = Entry.objects.filter(show=moved).exclude(pk=there.entry_id)[0]
    made = PaperCard.objects.create(
        judge=there.judge, entry=other, scorecard=there.scorecard, issued_at=AT
    )
    assert made.pk > there.pk
    # So does every other row: the database goes on counting after the keys it did not give.
    again = Animal.objects.create(entry=made.entry, name="Bell", kind="mule")
    assert again.pk > Animal.objects.filter(entry__number=1).latest("pk").pk


def test_people_come_without_passwords(moved: Show) -> None:
    office = office_of(moved)
    assert office.name == "Marguerite Oyelaran" and not office.has_usable_password()
    # Nobody of the other show came along.
    assert not Person.objects.filter(email__contains="other-ground").exists()


def test_a_season_is_joined_by_the_next_show_of_it(show: Show, path: Path) -> None:
    """A season's shows are moved one after the other, and meet in it again."""
    with transaction.atomic():
        stage.empty_the_instance()
        first = build_show(slug="first-of-season", n_entries=1, n_judges=1)
        by = office_of(first)
        season = Season.objects.create(
            slug="lantern-season", name="Lantern Season", points=["3", "1"], made_by=by, made_at=AT
        )
        SeasonClass.objects.create(
            season=season, show_class=class_of(first), added_by=by, added_at=AT
        )
        moved = restored(path)
        assert {row.show_class.show for row in season.classes.all()} == {first, moved}
        transaction.set_rollback(True)


def test_a_show_is_moved_twice(moved: Show, path: Path, tmp_path: Path) -> None:
    again = stage.archived(moved, tmp_path / "again.zip")
    stage.empty_the_instance()
    twice = restored(again)
    assert list(differences(twice)) == []
    held = RoundEvent.objects.get(show=twice, applied=False)
    assert held.body["entry"] == -stage.UNKNOWN


# --- Honest about what was wrong ---------------------------------------------------------------


def altered_place(show: Show) -> None:
    result = Result.objects.get(show_class=class_of(show))
    result.placings.filter(place=2).update(place=1)


def altered_inputs(show: Show) -> None:
    Result.objects.filter(show_class=class_of(show)).update(inputs_hash="0" * 64)


@pytest.mark.parametrize("alter", [stage.altered_event, altered_place, altered_inputs])
def test_what_did_not_fit_goes_on_not_fitting(
    show: Show, alter: Callable[[Show], None], tmp_path: Path
) -> None:
    with transaction.atomic():
        alter(show)
        faults = len(list(differences(show)))
        copy = restored(stage.archived(show, tmp_path / "altered.zip"), "copy")
        assert len(list(differences(copy))) == faults > 0
        transaction.set_rollback(True)


def test_the_record_says_which_fingerprint_became_which(show: Show, copy: Show) -> None:
    told = AuditEntry.objects.filter(show=copy).latest("pk").after
    pairs = [(one["was"], one["fingerprint"]) for one in told["results"]]
    kept = [
        list(Result.objects.filter(show_class__show=one).order_by("pk").values_list(
            "result_hash", flat=True
        ))
        for one in (show, copy)
    ]  # fmt: skip
    assert pairs == list(zip(*kept, strict=True)) and len(pairs) == 2
    assert Replay.of(copy).faults == []


# --- The file ----------------------------------------------------------------------------------


def test_the_same_rows_give_the_same_bytes(show: Show, path: Path, tmp_path: Path) -> None:
    assert stage.archived(show, tmp_path / "b.zip").read_bytes() == path.read_bytes()
    with (tmp_path / "later.zip").open("w+b") as out:
        write_archive(show=show, to=out, at=AT.replace(year=2031))
    one, other = path.read_bytes(), (tmp_path / "later.zip").read_bytes()
    assert len(one) == len(other) != 0
    assert one.replace(b"2027-05-15T15:00:00Z", b"") != one
    with zipfile.ZipFile(path) as packed, zipfile.ZipFile(tmp_path / "later.zip") as later:
        for name in set(packed.namelist()) - {"manifest.json"}:
            assert packed.read(name) == later.read(name)
        told = packed.read("manifest.json")
        assert later.read("manifest.json") == told.replace(b"2027-05-15T15", b"2031-05-15T15")


def test_no_secret_is_in_the_file(show: Show, path: Path) -> None:
    office = office_of(show)
    devices = Device.objects.filter(judge__show=show).phones().values_list("token_hash", flat=True)
    secrets = [
        stage.Secrets.token, hash_of(stage.Secrets.token), *devices,
        stage.Secrets.calendar, hash_of(stage.Secrets.calendar),
        office.password, office.password.rpartition("$")[2],
        "secret-of-a-passkey", "key-of-a-passkey",
    ]  # fmt: skip
    assert all(len(secret) > 10 for secret in secrets) and len(secrets) > 10
    with zipfile.ZipFile(path) as packed:
        everything = b"\n".join(packed.read(name) for name in packed.namelist())
    assert office.email.encode() in everything  # it can be found at all
    for secret in secrets:
        assert secret.encode() not in everything
        assert secret.encode() not in path.read_bytes()


def test_nobody_of_another_show_is_in_the_file(path: Path) -> None:
    assert not [row for row in stage.rows_in(path)[PERSON] if "other-ground" in row["email"]]
