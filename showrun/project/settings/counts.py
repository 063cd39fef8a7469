"""Where is counted how often somebody asked."""

from __future__ import annotations

from typing import Any


def counts_in(url: str) -> dict[str, dict[str, Any]]:
    """Return Django's caches: a Redis all web processes share, or the memory of each."""
    if not url.startswith(("redis://", "rediss://", "unix://")):
        return {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}
    return {
        "default": {
            "BACKEND": "showrun.project.counts_cache.CountsCache",
            "LOCATION": url,
            "KEY_PREFIX": "showrun",
            # Counting must not make anybody wait.
            "OPTIONS": {"socket_timeout": 0.5, "socket_connect_timeout": 0.5},
        }
    }
