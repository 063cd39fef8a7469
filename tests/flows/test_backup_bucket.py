"""A backup of files in a bucket, and back into an empty one: moto stands for the store."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import boto3
import environ
import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.management import call_command
from moto.server import ThreadedMotoServer

from showrun.project.backup import stored_files
from showrun.project.backup.archive import open_backup
from showrun.project.settings.files import bucket_storage

pytestmark = pytest.mark.django_db(transaction=True)
PAPERS = {"papers/3/award-1.pdf": b"%PDF one", "photos/wagon-2.jpg": b"a red wagon"}


@pytest.fixture
def bucket(settings, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Let files lie in an empty bucket."""
    server = ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
    server.start()
    host, port = server.get_host_and_port()
    given = {
        "FILES_BUCKET": "of-a-backup", "FILES_ENDPOINT_URL": f"http://{host}:{port}",
        "FILES_REGION": "us-east-1", "FILES_ACCESS_KEY": "key", "FILES_SECRET_KEY": "secret",
    }  # fmt: skip
    for name, value in given.items():
        monkeypatch.setenv(name, value)
    boto3.client(
        "s3", endpoint_url=given["FILES_ENDPOINT_URL"], region_name="us-east-1",
        aws_access_key_id="key", aws_secret_access_key="secret",
    ).create_bucket(Bucket="of-a-backup")  # fmt: skip
    settings.STORAGES = {**settings.STORAGES, "default": bucket_storage(environ.Env())}
    yield
    server.stop()


def test_files_in_a_bucket_are_kept_and_brought_back(bucket: None, tmp_path: Path) -> None:
    for name, content in PAPERS.items():
        assert default_storage.save(name, ContentFile(content)) == name
    file = tmp_path / "kept.zip"
    call_command("backup", out=file)
    call_command("backup", out=tmp_path / "bare.zip", without_files=True)
    with open_backup(tmp_path / "bare.zip") as bare:
        assert bare.manifest.files == []
        assert not bare.manifest.with_files
    default_storage.delete("papers/3/award-1.pdf")
    with open_backup(file) as backup:
        assert backup.manifest.files == sorted(PAPERS)
        assert stored_files.unlike_stored(backup) == []
        assert stored_files.put_back(backup) == (1, 1)
        default_storage.delete("photos/wagon-2.jpg")
        default_storage.save("photos/wagon-2.jpg", ContentFile(b"another wagon"))
        assert stored_files.unlike_stored(backup) == ["photos/wagon-2.jpg"]
        stored_files.put_back(backup)
    assert {name: default_storage.open(name).read() for name in PAPERS} == PAPERS
