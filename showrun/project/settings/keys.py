"""The secret key of a machine that is given none."""

from __future__ import annotations

import os
import secrets
from contextlib import suppress
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured


def kept_key(kept: Path) -> str:
    """Return the key kept in this file, made if new; whoever reads it reads it whole."""
    if not kept.exists():
        _make(kept)
    key = kept.read_text(encoding="utf-8")
    if not key.strip():
        raise ImproperlyConfigured(
            f"{kept} is empty, so there is no secret key. Delete the file and start again: "
            "a new key is made, and everybody signs in anew."
        )
    return key


def _make(kept: Path) -> None:
    """Write a key beside the file, then link it there; the first of several processes wins."""
    fresh = kept.with_name(f"{kept.name}.{secrets.token_hex(8)}")
    try:
        fresh.touch(mode=0o600, exist_ok=False)
        fresh.write_text(secrets.token_urlsafe(50), encoding="utf-8")
        with suppress(FileExistsError):
            os.link(fresh, kept)
    finally:
        fresh.unlink(missing_ok=True)
