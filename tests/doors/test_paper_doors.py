"""Papers over HTTP: who gets what, in which shape."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from entries.actions.change_entry import change_entry
from judging.models import Result
from reports import tasks
from reports.actions.draw_paper import draw_paper
from reports.actions.want_papers import want_papers
from reports.models import Paper
from reports.rules.code import make_code, printed
from showrun.shows.models import Person, Show
from tests import papers_stage as stage
from tests.drawn_papers import draw_plainly, words_of
from tests.kept import kept_for_module

pytestmark = pytest.mark.django_db
API = "/api/v1/shows/lantern-draw/papers"
PAGE = "/shows/lantern-draw/office/papers/"


@pytest.fixture(autouse=True)
def _own_files(settings, tmp_path) -> None:
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture(autouse=True)
def sent(monkeypatch) -> list[int]:
    """Note what the queue is asked for instead of asking it."""
    asked: list[int] = []

    monkeypatch.setattr(tasks, "ask_for", lambda paper: asked.append(paper.pk))
    return asked


@pytest.fixture(autouse=True)
def _drawn_plainly(monkeypatch: pytest.MonkeyPatch) -> None:
    """The doors ask who comes, not what a file looks like."""
    draw_plainly(monkeypatch)


@pytest.fixture(scope="module")
def kept_pk(django_db_setup: None, django_db_blocker: Any) -> Iterator[int]:
    """Two wagons judged, one of them awarded."""
    with kept_for_module(django_db_blocker):
        show = stage.show()
        sections = stage.scorecard(show, n_sections=1, n_rows=2)
        yield stage.released_class(show, sections, n_entries=2, places_awarded=1).pk


@pytest.fixture
def result(kept_pk: int, db: None) -> Result:
    return Result.objects.get(pk=kept_pk)


@pytest.fixture
def office(result: Result) -> Person:
    return stage.person("Nora Fields", "office", show=result.show_class.show)


@pytest.fixture
def wanted(result: Result) -> list[Paper]:
    return want_papers(show=result.show_class.show, by=None, at=stage.AT)


@pytest.fixture
def done(wanted: list[Paper]) -> Paper:
    """Return the feedback sheet of entry 1."""
    for paper in wanted:
        draw_paper(paper_id=paper.pk, at=stage.AT)
    return Paper.objects.get(kind="feedback", entry__number=1)


def signed_in(person: Person | None) -> Client:
    client = Client()
    if person is not None:
        client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return client


def people(paper: Paper) -> dict[str, Person | None]:
    show = paper.show
    elsewhere = Show.objects.filter(slug="elsewhere").first() or stage.show("elsewhere")
    feedback = Paper.objects.filter(show=show, kind="feedback")
    other = feedback.exclude(entry=paper.entry).first()
    assert other is not None
    return {
        "nobody": None,
        "stranger": stage.person("A Stranger"),
        "other exhibitor": other.of_result[1].exhibitor,
        "owner": paper.of_result[1].exhibitor,
        "office": stage.person("Nora Fields", "office", show=show),
        "steward": stage.person("Hal Steward", "steward", show=show),
        "office elsewhere": stage.person("Eli Elsewhere", "office", show=elsewhere),
    }


def statuses(paper: Paper, address: str) -> dict[str, int]:
    return {
        who: signed_in(person).get(address).status_code for who, person in people(paper).items()
    }


FILE = {
    "nobody": 404,
    "stranger": 404,
    "other exhibitor": 404,
    "owner": 200,
    "office": 200,
    "steward": 403,
    "office elsewhere": 404,
}


def test_who_gets_the_file(done: Paper) -> None:
    assert statuses(done, reverse("reports:paper-file", args=[done.pk])) == FILE


def test_who_gets_the_file_by_the_entry(done: Paper) -> None:
    assert statuses(done, f"/entries/{done.entry_id}/papers/feedback/") == FILE


def test_who_sees_the_page_and_the_api(done: Paper) -> None:
    office_only = {**FILE, "owner": 404}
    assert statuses(done, PAGE) == office_only
    behind_sign_in = {**office_only, "nobody": 403}
    assert statuses(done, API) == behind_sign_in
    assert statuses(done, f"/api/v1/papers/{done.pk}") == behind_sign_in


def test_the_file_comes_as_a_private_download(done: Paper) -> None:
    answer: Any = signed_in(done.of_result[1].exhibitor).get(f"/papers/{done.pk}/file")
    data = b"".join(answer.streaming_content)
    assert hashlib.sha256(data).hexdigest() == done.content_hash
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Content-Disposition"] == (
        'attachment; filename="feedback-lantern-draw-trail-1-v1.pdf"'
    )
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert {"private", "no-store"} <= set(answer["Cache-Control"].split(", "))


def test_before_release_the_owner_reads_why_and_a_stranger_nothing(done: Paper) -> None:
    Result.objects.update(released_at=None)
    sentence = "The results of Trail wagon are not released yet; your sheet will be here when"
    for address in (f"/papers/{done.pk}/file", f"/entries/{done.entry_id}/papers/feedback/"):
        answer = signed_in(done.of_result[1].exhibitor).get(address)
        assert answer.status_code == 403
        assert sentence in answer.content.decode()
        stranger = signed_in(stage.person("A Stranger")).get(address)
        assert stranger.status_code == 404
        assert "Trail" not in stranger.content.decode()


def test_a_replaced_sheet_is_gone_for_its_owner(done: Paper) -> None:
    Result.objects.update(replaced_at=stage.AT)
    answer = signed_in(done.of_result[1].exhibitor).get(f"/papers/{done.pk}/file")
    assert answer.status_code == 410
    assert "has been replaced" in answer.content.decode()


def test_a_sheet_on_its_way_is_announced(wanted: list[Paper]) -> None:
    paper = wanted[0]
    owner = signed_in(paper.of_result[1].exhibitor)
    address = f"/entries/{paper.entry_id}/papers/{paper.kind}/"
    answer = owner.get(address)
    assert answer.status_code == 409
    assert "being made" in answer.content.decode()
    Paper.objects.filter(pk=paper.pk).update(state="failed", error="KeyError: 'x'")
    answer = owner.get(address)
    assert answer.status_code == 409
    assert "KeyError" not in answer.content.decode()


def test_no_award_sheet_without_an_award(done: Paper) -> None:
    second = Paper.objects.get(kind="feedback", entry__number=2)
    owner = signed_in(second.of_result[1].exhibitor)
    answer = owner.get(f"/entries/{second.entry_id}/papers/award/")
    assert answer.status_code == 404
    assert "no award sheet" in answer.content.decode()
    assert owner.get(f"/entries/{second.entry_id}/papers/diploma/").status_code == 404
    named = owner.get(f"/entries/{second.entry_id}/papers/feedback/?class=trail")
    assert named.status_code == 200
    other = owner.get(f"/entries/{second.entry_id}/papers/feedback/?class=ranch")
    assert other.status_code == 403


def test_the_office_makes_watches_cancels_and_repeats(
    result: Result, office: Person, sent: list[int], django_capture_on_commit_callbacks
) -> None:
    client = signed_in(office)
    assert "Make papers" in client.get(PAGE).content.decode()
    with django_capture_on_commit_callbacks(execute=True):
        answer = client.post(PAGE, {"deed": "want"}, follow=True)
    assert answer.redirect_chain == [(PAGE, 302)]
    assert "5 papers will be drawn now." in answer.content.decode()
    assert sorted(sent) == sorted(Paper.objects.values_list("pk", flat=True))
    assert "data-refresh=" in answer.content.decode()

    draw_paper(paper_id=sent[0], at=stage.AT)
    assert "1 of 5 ready, 4 on the way" in client.get(PAGE).content.decode()
    answer = client.post(PAGE, {"deed": "cancel"}, follow=True)
    assert "4 papers were cancelled." in answer.content.decode()
    assert "data-refresh=" not in answer.content.decode()
    answer = client.post(PAGE, {"deed": "want"}, follow=True)
    assert "0 papers will be drawn now. 5 are there already." in answer.content.decode()

    one = Paper.objects.filter(state="cancelled").first()
    assert one is not None
    sent.clear()
    with django_capture_on_commit_callbacks(execute=True):
        client.post(reverse("reports:paper-redo", args=[one.pk]))
    assert sent == [one.pk]
    answer = client.post(reverse("reports:paper-redo", args=[one.pk]), follow=True)
    assert "waiting or being drawn already" in answer.content.decode()
    with django_capture_on_commit_callbacks(execute=True):
        client.post(PAGE, {"deed": "redo"})
    assert len(sent) == 4
    answer = client.post(PAGE, {"deed": "burn"}, follow=True)
    assert "Choose to make, repeat or cancel papers." in answer.content.decode()


def test_a_sheet_is_drawn_again_with_the_name_put_right(
    done: Paper, office: Person, sent: list[int], django_capture_on_commit_callbacks
) -> None:
    before = done.content_hash
    change_entry(
        entry=done.of_result[1], by=office, at=stage.AT, changes={"wagon_name": "Copper Moon"}
    )
    address = reverse("reports:paper-redo", args=[done.pk])
    client = signed_in(office)
    assert f'action="{address}"' in client.get(PAGE).content.decode()
    with django_capture_on_commit_callbacks(execute=True):
        client.post(address)
    assert sent == [done.pk]
    assert f'action="{address}"' not in client.get(PAGE).content.decode(), "it is on its way"
    drawn = draw_paper(paper_id=done.pk, at=stage.AT)
    assert drawn is not None and drawn.content_hash != before
    assert "Copper Moon" in words_of(drawn)


def test_a_failed_paper_says_why_to_the_office(wanted: list[Paper], office: Person) -> None:
    Paper.objects.filter(pk=wanted[0].pk).update(state="failed", error="Harness: no sum <b>")
    page = signed_in(office).get(PAGE).content.decode()
    assert "Harness: no sum &lt;b&gt;" in page
    assert "1 could not be drawn" in page


def test_a_queue_out_of_reach_does_not_undo_the_wish(
    result: Result, office: Person, monkeypatch, django_capture_on_commit_callbacks
) -> None:
    def down(paper: Paper) -> None:
        raise ConnectionError("no broker")

    monkeypatch.setattr(tasks, "ask_for", down)
    with django_capture_on_commit_callbacks(execute=True):
        answer = signed_in(office).post(PAGE, {"deed": "want"})
    assert answer.status_code == 302
    assert Paper.objects.filter(state="wanted").count() == 5


def test_nothing_to_make_before_release(result: Result, office: Person) -> None:
    Result.objects.update(released_at=None)
    client = signed_in(office)
    page = client.get(PAGE).content.decode()
    assert "No result is released yet" in page
    assert "Make papers" not in page
    answer = client.post(PAGE, {"deed": "want"}, follow=True)
    assert "No result of this show is released" in answer.content.decode()
    api = client.post(API)
    assert api.status_code == 409
    assert api.json()["code"] == "not-yet"


def test_the_office_page_asks_the_database_as_often_for_many_papers(
    result: Result, office: Person
) -> None:
    client = signed_in(office)
    show = result.show_class.show

    def queries() -> int:
        want_papers(show=show, by=None, at=stage.AT)
        with CaptureQueriesContext(connection) as asked:
            assert client.get(PAGE).status_code == 200
        return len(asked)

    few = queries()
    stage.released_class(show, _sections(result), n_entries=12, code="ranch")
    assert queries() == few
    assert Paper.objects.count() > 15
    assert few <= 13


def _sections(result: Result) -> list[Any]:
    from judging.models import Section

    return list(Section.objects.filter(scorecard__show=result.show_class.show))


def test_the_api_wants_and_lists(
    result: Result, office: Person, sent: list[int], django_capture_on_commit_callbacks
) -> None:
    client = signed_in(office)
    with django_capture_on_commit_callbacks(execute=True):
        answer = client.post(API)
    assert answer.status_code == 202
    counts = {"done": 0, "total": 5, "failed": 0, "cancelled": 0, "unfinished": 5}
    assert answer.json() == counts
    assert len(sent) == 5
    with django_capture_on_commit_callbacks(execute=True):
        assert client.post(API).json() == counts

    draw_paper(paper_id=sent[0], at=stage.AT)
    listed = client.get(API).json()
    assert listed["progress"] == {**counts, "done": 1, "unfinished": 4}
    assert len(listed["papers"]) == 5
    one = client.get(f"/api/v1/papers/{sent[0]}").json()
    assert one in listed["papers"]
    paper = Paper.objects.get(pk=sent[0])
    assert one["file"] == f"/papers/{paper.pk}/file"
    assert one["sha256"] == paper.content_hash
    assert (one["state"], one["show_class"], one["replaced"]) == ("done", "trail", False)
    other = client.get(f"/api/v1/papers/{sent[1]}").json()
    assert (other["file"], other["pages"]) == (None, None)
    missing = client.get("/api/v1/papers/999999")
    assert (missing.status_code, missing.json()["code"]) == (404, "not-found")


def test_the_check_page_tells_what_a_code_is_worth_and_nothing_else(done: Paper) -> None:
    anybody = Client()
    answer = anybody.get(f"/papers/check/{done.code_printed.lower()}/")
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "is genuine" in page
    assert "That version counts." in page
    for secret in (done.of_result[1].wagon_name, "Ada Moor", "Trail wagon", "Lantern Draw"):
        assert secret not in page

    old = done.of_result[2]
    old.replaced_at = stage.AT
    old.save()
    page = anybody.get(f"/papers/check/{done.code_printed}/").content.decode()
    assert "replaced" in page
    assert "No version counts at present." in page
    new = Result.objects.get(pk=old.pk)
    new.pk, new.version, new.replaced_at = None, 2, None
    new.save()
    page = anybody.get(f"/papers/check/{done.code_printed}/").content.decode()
    assert "Version 2 counts now." in page


def test_unknown_and_mistyped_codes(done: Paper) -> None:
    anybody = Client()
    unknown = anybody.get(f"/papers/check/{printed(make_code(b'nothere'))}/")
    assert unknown.status_code == 404
    assert "on no paper made here" in unknown.content.decode()
    wrong = done.code[:-1] + ("A" if done.code[-1] != "A" else "B")
    typed = anybody.get(f"/papers/check/{wrong}/")
    assert typed.status_code == 404
    assert "compare them again" in typed.content.decode()
    assert anybody.get("/papers/check/").status_code == 200
    sent_on = anybody.get("/papers/check/", {"code": f" {done.code_printed} "})
    assert sent_on["Location"] == f"/papers/check/{done.code_printed}/"


def test_a_paper_not_drawn_yet_has_no_valid_code(wanted: list[Paper]) -> None:
    assert Client().get(f"/papers/check/{wanted[0].code}/").status_code == 404
