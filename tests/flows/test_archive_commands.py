"""The two commands, as whoever keeps the machine runs them: outside any transaction."""

from __future__ import annotations

import hashlib
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from entries.models import Entry
from showrun.shows.models import AuditEntry, Person, Show
from tests.food_stage import drawn
from tests.judged_show import build_show

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def show() -> Show:
    return build_show(n_entries=2, n_judges=2, kin=False)


def written() -> tuple[int, ...]:
    return tuple(model._base_manager.count() for model in (Show, Person, Entry, AuditEntry))


def said(*args: Any, **options: Any) -> str:
    out = StringIO()
    call_command(*args, stdout=out, **options)
    return out.getvalue()


def test_the_commands_take_a_show_out_and_bring_it_back(show: Show, tmp_path: Path) -> None:
    file = tmp_path / "show.zip"
    told = said("export_show", show.slug, out=file)
    assert hashlib.sha256(file.read_bytes()).hexdigest() in told
    assert file.stat().st_mode & 0o077 == 0
    before = written()
    told = said("restore_show", file, as_slug="copy", check_only=True)
    assert "every checksum right" in told and "Nothing was written." in told
    assert written() == before
    told = said("restore_show", file, as_slug="copy")
    assert "Restored as “copy”" in told and "0 files" in told
    assert Show.objects.filter(slug="copy").exists()


def test_the_commands_say_what_is_wrong(show: Show, tmp_path: Path) -> None:
    file = tmp_path / "show.zip"
    with pytest.raises(CommandError, match="There is no show “nowhere”"):
        said("export_show", "nowhere", out=file)
    file.write_bytes(b"mine")
    with pytest.raises(CommandError, match="cannot be made"):
        said("export_show", show.slug, out=file)
    assert file.read_bytes() == b"mine"
    with pytest.raises(CommandError, match="broken or cut off"):
        said("restore_show", file)
    file.unlink()
    drawn(show)
    assert "the key of a round is not open yet" in said("export_show", show.slug, out=file)
    with pytest.raises(CommandError, match="Nothing is written over"):
        said("restore_show", file)
