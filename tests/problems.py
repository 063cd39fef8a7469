"""What every refusal of the API looks like (RFC 9457), checked in one place."""

from __future__ import annotations

from typing import Any

KNOWN = {"type", "title", "status", "detail", "code"}


def problem(answer: Any, status: int, code: str) -> dict[str, Any]:
    """Return the refusal's body, after making sure that it is a whole one of this kind."""
    assert answer.status_code == status, answer.content
    assert answer["Content-Type"] == "application/problem+json"
    body = answer.json()
    assert set(body) >= KNOWN
    assert (body["status"], body["code"]) == (status, code)
    assert body["type"] == f"/problems/{code}"
    assert len(body["title"]) > 3
    assert len(body["detail"]) > 10, "a sentence that says what to do"
    return dict(body)
