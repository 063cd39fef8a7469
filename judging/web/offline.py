"""The judge's round as a phone gets it: a page without anybody's data, and its worker."""

from __future__ import annotations

import json
import re
from base64 import b64encode
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from hashlib import sha256
from pathlib import Path
from posixpath import dirname, normpath

from django.conf import settings
from django.contrib.staticfiles import finders
from django.contrib.staticfiles.storage import staticfiles_storage
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import translation
from django.views.decorators.http import require_safe

from showrun.language import gettext as _
from showrun.language import pgettext

# The script in it is built: `judging/round_script`.
HOME = "judging/offline"
# The handbook's drawings, which a judge opens with one tap and no signal.
DRAWINGS = "judging/drawings"
WORKER = f"{HOME}/worker.js"
# Besides everything in HOME and all drawings; what a stylesheet names in turn is found by itself.
BESIDES = ("show/style.css",)
KINDS = (".js", ".css", ".png", ".svg")
NAMED_IN_CSS = re.compile(r"""url\(\s*['"]?([^'")]+)""")
NO_CACHE = {"Cache-Control": "no-cache"}


@dataclass(frozen=True)
class Shell:
    """The files that open the round with no signal, each with its hash."""

    version: str
    files: tuple[tuple[str, str], ...]


def _found(name: str) -> Path | None:
    path = finders.find(name)
    return Path(path) if isinstance(path, str) else None


def _names() -> Iterator[str]:
    """Yield the static names of the shell's files, some perhaps twice."""
    for folder in (HOME, DRAWINGS):
        home = _found(folder)
        if home is None:
            continue
        for path in sorted(home.rglob("*")):
            name = f"{folder}/{path.relative_to(home).as_posix()}"
            if path.suffix in KINDS and name != WORKER:
                yield name
    yield from BESIDES


def _with_named(names: Iterator[str]) -> Iterator[str]:
    """Yield each name and, after a stylesheet, the files it names."""
    for name in names:
        yield name
        path = _found(name)
        if path is None or path.suffix != ".css":
            continue
        for target in NAMED_IN_CSS.findall(path.read_text()):
            if not target.startswith(("data:", "#", "/", "http")):
                yield normpath(f"{dirname(name)}/{target}")


def _read_shell() -> Shell:
    whole = sha256()
    for (
        language,
        _name,
    ) in settings.LANGUAGES:  # one version for all: the page itself can speak each
        with translation.override(language):
            whole.update(render_to_string("judging/round.html").encode())
    worker = _found(WORKER)
    whole.update(worker.read_bytes() if worker else b"")
    files = {}
    for name in sorted(set(_with_named(_names()))):
        path = _found(name)
        if path is None:
            continue
        digest = sha256(path.read_bytes()).digest()
        whole.update(name.encode() + digest)
        files[staticfiles_storage.url(name)] = f"sha256-{b64encode(digest).decode()}"
    return Shell(version=whole.hexdigest()[:16], files=tuple(files.items()))


_kept_shell = cache(_read_shell)


def shell() -> Shell:
    """Return the shell as it is on disk; read once, except while developing."""
    return _read_shell() if settings.DEBUG else _kept_shell()


@require_safe
def round_shell(request: HttpRequest) -> HttpResponse:
    """Give the page; it holds no data, the phone fetches its own after pairing."""
    return HttpResponse(render_to_string("judging/round.html"), headers=NO_CACHE)


@require_safe
def round_worker(request: HttpRequest) -> HttpResponse:
    """Give the worker with the list of files it keeps; a changed file changes the worker."""
    page = reverse("judging:round")
    known = shell()
    files = [{"path": path, "integrity": integrity} for path, integrity in known.files]
    lines = {"version": known.version, "page": page, "files": files}
    source = _found(WORKER)
    body = f"const SHELL = {json.dumps(lines)};\n{source.read_text() if source else ''}"
    return HttpResponse(
        body,
        content_type="text/javascript",
        headers={**NO_CACHE, "Service-Worker-Allowed": page},
    )


@require_safe
def round_manifest(request: HttpRequest) -> JsonResponse:
    """Give the manifest that lets a phone install the page."""
    page = reverse("judging:round")

    def icon(name: str, sizes: str, kind: str, purpose: str = "any") -> dict[str, str]:
        src = staticfiles_storage.url(f"{HOME}/icons/{name}")
        return {"src": src, "sizes": sizes, "type": kind, "purpose": purpose}

    return JsonResponse(
        {
            "id": page,
            "lang": translation.get_language(),
            "name": _("Judge's round"),
            "short_name": pgettext("a judge's", "Round"),
            "description": _("Score wagons at a chuckwagon show, with or without a signal."),
            "start_url": page,
            "scope": page,
            "display": "standalone",
            "background_color": "#F7F2E8",
            "theme_color": "#8C3B1F",
            "icons": [
                icon("round.svg", "any", "image/svg+xml"),
                icon("round-192.png", "192x192", "image/png"),
                icon("round-512.png", "512x512", "image/png"),
                icon("round-maskable-512.png", "512x512", "image/png", "maskable"),
            ],
        },
        content_type="application/manifest+json",
        headers=NO_CACHE,
    )
