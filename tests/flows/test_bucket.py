"""Papers in a bucket: drawn into it, handed out by a link that soon ends, to whom it is due.

A server that speaks the S3 protocol (moto, over HTTP) stands for the store. It honours any link, so
what is checked of a link is what the store would check: its signature's parts and its end.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from urllib.parse import parse_qs, urlsplit

import boto3
import environ
import httpx
import pytest
from botocore.exceptions import BotoCoreError
from django.core.files.base import ContentFile
from django.test import Client
from moto.server import ThreadedMotoServer

from entries.actions.put_photo import put_photo
from judging.models import Judge, Result
from reports.actions.draw_paper import draw_paper
from reports.actions.redo_papers import redo_paper
from reports.actions.want_papers import want_papers
from reports.models import Paper
from showrun.project.settings.files import bucket_storage
from showrun.shows.models import Person
from tests import papers_stage as stage
from tests.pictures import picture

BUCKET = "papers-of-a-show"
pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def store() -> Iterator[str]:
    server = ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
    server.start()
    host, port = server.get_host_and_port()
    yield f"http://{host}:{port}"
    server.stop()


@pytest.fixture
def bucket(store: str, settings, monkeypatch: pytest.MonkeyPatch) -> str:
    """Let files lie in an empty bucket, set up as the environment of a server would."""
    given = {
        "FILES_BUCKET": BUCKET, "FILES_ENDPOINT_URL": store, "FILES_REGION": "us-east-1",
        "FILES_ACCESS_KEY": "key", "FILES_SECRET_KEY": "secret", "FILES_LINK_SECONDS": "45",
    }  # fmt: skip
    for name, value in given.items():
        monkeypatch.setenv(name, value)
    httpx.post(f"{store}/moto-api/reset")
    boto3.client(
        "s3", endpoint_url=store, region_name="us-east-1",
        aws_access_key_id="key", aws_secret_access_key="secret",
    ).create_bucket(Bucket=BUCKET)  # fmt: skip
    settings.STORAGES = {**settings.STORAGES, "default": bucket_storage(environ.Env())}
    settings.FILES_BUCKET = BUCKET
    return store


@pytest.fixture
def wanted() -> list[Paper]:
    show = stage.show()
    sections = stage.scorecard(show, n_sections=1, n_rows=2)
    stage.released_class(show, sections, n_entries=2, places_awarded=1)
    return want_papers(show=show, by=None, at=stage.AT)


@pytest.fixture
def sheet(bucket: str, wanted: list[Paper]) -> Paper:
    paper = next(paper for paper in wanted if paper.kind == "feedback")
    drawn = draw_paper(paper_id=paper.pk, at=stage.AT)
    assert drawn is not None
    assert drawn.state == "done", drawn.error
    return Paper.objects.get(pk=paper.pk)


def visit(person: Person | None, paper: Paper, at: str = "/papers/{}/file"):
    client = Client()
    if person is not None:
        client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return client.get(at.format(paper.pk))


def test_the_owner_is_sent_to_the_store_by_a_link_that_ends(bucket: str, sheet: Paper):
    answer = visit(sheet.of_result[1].exhibitor, sheet)
    assert answer.status_code == 302
    assert "no-store" in answer["Cache-Control"]
    link = urlsplit(answer["Location"])
    assert f"{link.scheme}://{link.netloc}" == bucket
    assert link.path == f"/{BUCKET}/{sheet.file.name}"
    said = parse_qs(link.query)
    assert said["X-Amz-Expires"] == ["45"]
    assert said["X-Amz-Algorithm"] == ["AWS4-HMAC-SHA256"]
    assert len(said["X-Amz-Signature"][0]) == 64
    fetched = httpx.get(answer["Location"])
    assert fetched.status_code == 200
    assert hashlib.sha256(fetched.content).hexdigest() == sheet.content_hash
    assert fetched.headers["Content-Type"] == "application/pdf"
    assert fetched.headers["Content-Disposition"] == (
        'attachment; filename="feedback-lantern-draw-trail-1-v1.pdf"'
    )


def test_nobody_else_is_given_a_link(sheet: Paper):
    show = sheet.show
    other = Paper.objects.filter(kind="feedback").exclude(pk=sheet.pk).get()
    judge = Judge.objects.filter(show=show)[0]
    refused = {
        "nobody": (None, 404),
        "stranger": (stage.person("A Stranger"), 404),
        "other exhibitor": (other.of_result[1].exhibitor, 404),
        "judge": (judge.person, 404),
        "steward": (stage.person("Hal Steward", "steward", show=show), 403),
    }
    for who, (person, status) in refused.items():
        answer = visit(person, sheet)
        assert answer.status_code == status, who
        assert "Location" not in answer
        assert "X-Amz" not in answer.content.decode()


def test_no_link_before_release_but_the_offices_own(sheet: Paper):
    Result.objects.update(released_at=None)
    owner = visit(sheet.of_result[1].exhibitor, sheet)
    assert owner.status_code == 403
    assert "X-Amz" not in owner.content.decode()
    office = visit(stage.person("Nora Fields", "office", show=sheet.show), sheet)
    assert office.status_code == 302


def test_drawn_again_the_same_file_stands_there_once(sheet: Paper):
    storage, name = sheet.file.storage, str(sheet.file.name)
    redo_paper(paper=sheet, by=stage.person("Nora Fields"), at=stage.AT)
    storage.delete(name)
    storage.save(
        name, ContentFile(picture())
    )  # what a worker killed half way, or a stranger, left there
    again = draw_paper(paper_id=sheet.pk, at=stage.AT)
    assert again is not None
    assert (again.file.name, again.content_hash) == (name, sheet.content_hash)
    with storage.open(name) as kept:
        assert hashlib.sha256(kept.read()).hexdigest() == sheet.content_hash
    assert storage.listdir(f"papers/{sheet.show_id}")[1] == [name.rpartition("/")[2]]


def test_a_lost_file_is_said_and_drawn_again(sheet: Paper):
    sheet.file.storage.delete(str(sheet.file.name))
    answer = visit(sheet.of_result[1].exhibitor, sheet)
    assert answer.status_code == 409
    assert "is lost; the show office can draw it again" in answer.content.decode()


def test_a_store_out_of_reach_costs_no_paper(bucket: str, wanted: list[Paper], settings):
    there = settings.STORAGES["default"]
    gone = {**there, "OPTIONS": {**there["OPTIONS"], "endpoint_url": "http://127.0.0.1:9"}}
    settings.STORAGES = {**settings.STORAGES, "default": gone}
    with pytest.raises(BotoCoreError):
        draw_paper(paper_id=wanted[0].pk, at=stage.AT)
    waits = Paper.objects.get(pk=wanted[0].pk)
    assert (waits.state, waits.attempts) == ("wanted", 0)
    assert "EndpointConnectionError" in waits.error
    settings.STORAGES = {**settings.STORAGES, "default": there}
    drawn = draw_paper(paper_id=wanted[0].pk, at=stage.AT)
    assert drawn is not None
    assert drawn.state == "done"


def test_a_photo_in_the_bucket_is_shown_by_us_alone(sheet: Paper):
    """A page shows it, and a page loads pictures from our own address only."""
    entry = sheet.of_result[1]
    put_photo(entry, picture())
    answer = visit(entry.exhibitor, sheet, f"/entries/{entry.pk}/photo/")
    assert answer.status_code == 200
    assert answer["Content-Type"] == "image/jpeg"
    assert b"".join(answer.streaming_content).startswith(b"\xff\xd8")
    stranger = visit(stage.person("A Stranger"), sheet, f"/entries/{entry.pk}/photo/")
    assert stranger.status_code == 404
