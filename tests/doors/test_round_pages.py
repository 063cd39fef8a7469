"""The judge's round as it is handed to a phone: no data, no inline script, files that are there."""

from __future__ import annotations

import base64
import hashlib
import json
import re

import pytest

from judging.web import offline


def shell_of(client) -> dict:  # type: ignore[type-arg, no-untyped-def]
    """Read what the worker is told to keep."""
    first = client.get("/round/worker.js").content.decode().partition("\n")[0]
    return dict(json.loads(first.removeprefix("const SHELL = ").removesuffix(";")))


def test_the_page_has_nothing_inline_and_nothing_of_anybody(client):
    answer = client.get("/round/")
    text = answer.content.decode()
    assert answer.status_code == 200
    assert answer.headers["Cache-Control"] == "no-cache"
    assert not re.search(r"<script(?![^>]*\bsrc=)|<style|\bstyle=|\bnonce=|\bon\w+=", text)
    assert "csrf" not in text and not answer.cookies
    assert "'nonce-" not in answer.headers["Content-Security-Policy"]


def test_the_worker_is_fresh_each_time_and_for_the_round_alone(client):
    answer = client.get("/round/worker.js")
    assert answer.headers["Content-Type"].startswith("text/javascript")
    assert answer.headers["Cache-Control"] == "no-cache"
    assert answer.headers["Service-Worker-Allowed"] == "/round/"


def test_every_file_of_the_shell_is_served_as_its_hash_says(client):
    told = shell_of(client)
    paths = [file["path"] for file in told["files"]]
    for needed in ("offline/page.js", "offline/round.css"):
        assert f"/static/judging/{needed}" in paths
    assert "/static/judging/offline/worker.js" not in paths
    assert any(path.endswith(".woff2") for path in paths)
    for file in told["files"]:
        answer = client.get(file["path"])
        body = b"".join(answer) if answer.streaming else answer.content
        digest = base64.b64encode(hashlib.sha256(body).digest()).decode()
        assert (answer.status_code, f"sha256-{digest}") == (200, file["integrity"]), file["path"]


def test_the_page_loads_no_script_that_is_not_kept():
    kept = {path for path, _ in offline.shell().files}
    page = offline._found(f"{offline.HOME}/page.js")
    assert page is not None
    assert not re.search(r"""\bimport\s*[({"'*]|\}\s*from\s*["']""", page.read_text())
    assert [path for path in kept if path.endswith(".js")] == [f"/static/{offline.HOME}/page.js"]


def test_a_changed_file_makes_another_version(monkeypatch, tmp_path):
    before = offline._read_shell().version
    changed = tmp_path / "page.css"
    changed.write_text("a {}")
    whole = offline._found
    monkeypatch.setattr(
        offline, "_found", lambda name: changed if name == "show/style.css" else whole(name)
    )
    assert offline._read_shell().version != before


def test_the_manifest_lets_a_phone_install_the_round(client):
    answer = client.get("/round/manifest.webmanifest")
    told = answer.json()
    assert answer.headers["Content-Type"] == "application/manifest+json"
    assert told["start_url"] == told["scope"] == "/round/"
    assert told["display"] == "standalone"
    for icon in told["icons"]:
        assert client.get(icon["src"]).status_code == 200


@pytest.mark.parametrize("path", ["/round/", "/round/worker.js", "/round/manifest.webmanifest"])
def test_the_shell_is_only_read(client, path):
    assert client.post(path).status_code == 405
