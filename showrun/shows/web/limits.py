"""How often the same person or address may ask for the same thing in a while.

Counted in the cache: one for all web processes where the settings name a Redis, else one in each.
Nothing a judge's phone sends of its round is ever counted.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from functools import wraps
from typing import Any, TypeVar, cast

from django.core.cache import cache
from django.http import HttpRequest, HttpResponse

from showrun.errors import TooOften
from showrun.language import gettext as _

SPAN_S = 600
# A ground's visitors share one address, so this one is wide; it stops a flood, not a queue.
ASKS_PER_ADDRESS = 60

View = TypeVar("View", bound=Callable[..., HttpResponse])


def count_asks(key: str, span_s: int = SPAN_S) -> int:
    """Count one more ask under this key; return how many there were since the span began."""
    hashed = f"asks:{hashlib.sha256(key.encode()).hexdigest()}"
    cache.add(hashed, 0, span_s)
    try:
        return cache.incr(hashed)
    except ValueError:  # ran out between the two lines
        return 1


def client_ip(request: HttpRequest) -> str:
    """Return the address that really connects: any sender can write another into a header."""
    return str(request.META.get("REMOTE_ADDR", ""))


def limited(
    scope: str, allowed: int, *, method: str = "POST", span_s: int = SPAN_S
) -> Callable[[View], View]:
    """Refuse a page that one person, or one address not signed in, asked for too often."""

    def around(view: View) -> View:
        @wraps(view)
        def counted(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            who = request.user.pk or client_ip(request)
            if request.method == method and count_asks(f"{scope} {who}", span_s) > allowed:
                raise TooOften(
                    _(
                        "This was asked for many times in a few minutes. What you sent just now "
                        "was not taken; send it again in {n} minutes."
                    ).format(n=span_s // 60),
                    retry_after_s=span_s,
                )
            return view(request, *args, **kwargs)

        return cast("View", counted)

    return around
