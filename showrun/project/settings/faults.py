"""Tell a collector of faults, one that speaks Sentry's protocol, where the code broke.

Off without SENTRY_DSN. What is sent is chosen, not cleaned: a list of what must not go out is never
whole, and the words of an error may quote a row. So an event keeps where it happened and of what
type it was, and nothing that anybody typed, was called, or signs in with.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

# What tells of the program and never of a person.
KEPT = (
    *("event_id", "timestamp", "level", "platform", "logger", "release", "environment", "dist"),
    *("sdk", "server_name", "transaction", "transaction_info", "fingerprint", "modules", "type"),
)
FRAME = (
    *("filename", "abs_path", "function", "module", "lineno", "in_app"),
    *("pre_context", "context_line", "post_context"),
)


def version_of(root: Path) -> str:
    """Return the project's version as it stands in its own file."""
    told = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))
    return str(told["project"]["version"])


def report_faults(*, dsn: str, release: str, **more: Any) -> None:
    """Start to report; `more` goes to the library as it is."""
    # Only whoever reports loads its library.
    import sentry_sdk  # noqa: PLC0415
    from sentry_sdk.integrations.logging import ignore_logger  # noqa: PLC0415

    # What breaks a request is reported as such; its lines in the log would report it again.
    for name in ("django_structlog.middlewares.request", "django.request"):
        ignore_logger(name)
    sentry_sdk.init(
        dsn=dsn,
        release=release,
        send_default_pii=False,
        include_local_variables=False,
        max_request_body_size="never",
        max_breadcrumbs=0,
        auto_session_tracking=False,
        before_send=chosen,
        before_send_transaction=lambda *_: None,
        **more,
    )


def chosen(event: Any, _: Any = None) -> Any:
    """Return of an event what may leave the house."""
    told = {name: event[name] for name in KEPT if name in event}
    if found := (event.get("exception") or {}).get("values"):
        told["exception"] = {"values": [_fault(one) for one in found]}
    if method := (event.get("request") or {}).get("method"):
        told["request"] = {"method": method}
    words = (event.get("logentry") or {}).get("message")
    if isinstance(words, str) and "exception" not in told:
        told["logentry"] = {"message": _template(words, event)}
    runtime = (event.get("contexts") or {}).get("runtime")
    if runtime:
        told["contexts"] = {"runtime": runtime}
    return told


def _fault(one: Any) -> dict[str, Any]:
    """Keep an exception's type and way; its words may quote what was sent."""
    frames = (one.get("stacktrace") or {}).get("frames") or []
    kept = [{name: frame[name] for name in FRAME if name in frame} for frame in frames]
    said = {name: one[name] for name in ("type", "module") if name in one}
    handled = (one.get("mechanism") or {}).get("handled")
    return {
        **said,
        "mechanism": {"type": "generic", "handled": handled},
        "stacktrace": {"frames": kept},
    }


def _template(words: str, event: Any) -> str:
    """Keep a line of the log only as it stands in the code, before anything is put into it."""
    return words if "%" in words else f"a line of {event.get('logger', 'the log')}"
