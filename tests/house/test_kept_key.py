"""The key a machine keeps for itself: whole for every process, and for its owner alone."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from django.core.exceptions import ImproperlyConfigured

from showrun.project.settings.keys import kept_key


def test_a_key_is_made_once_and_for_its_owner_alone(tmp_path: Path) -> None:
    kept = tmp_path / "secret_key"
    key = kept_key(kept)
    assert len(key) > 50
    assert kept_key(kept) == key
    assert kept.stat().st_mode & 0o777 == 0o600
    assert [path.name for path in tmp_path.iterdir()] == ["secret_key"]


def test_of_two_processes_that_make_one_the_first_wins(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept, link = tmp_path / "secret_key", os.link

    def late(source: Path, target: Path) -> None:
        kept.write_text("the key of the other process")
        link(source, target)

    monkeypatch.setattr(os, "link", late)
    assert kept_key(kept) == "the key of the other process"
    assert [path.name for path in tmp_path.iterdir()] == ["secret_key"]


def test_nothing_is_kept_before_the_key_is_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(source: Path, target: Path) -> None:
        assert source.read_text()
        assert not target.exists()
        raise OSError("No space left on device")

    monkeypatch.setattr(os, "link", full)
    with pytest.raises(OSError, match="No space"):
        kept_key(tmp_path / "secret_key")
    assert not list(tmp_path.iterdir())


def test_an_empty_key_is_refused_with_what_to_do(tmp_path: Path) -> None:
    kept = tmp_path / "secret_key"
    kept.touch()
    with pytest.raises(ImproperlyConfigured, match="Delete the file and start again"):
        kept_key(kept)
