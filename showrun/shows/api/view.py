"""What every address of the API does: a tag on what is read, and nothing sent twice for nothing."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from django.db import transaction
from django.utils.http import parse_etags
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.utils.encoders import JSONEncoder
from rest_framework.views import APIView

from showrun.errors import ShowError
from showrun.shows.models import Show

CACHED = "private, no-cache"  # kept by the reader alone, and asked for each time


class ChangedMeanwhile(ShowError):
    """Somebody changed it since it was read."""

    status = 412
    code = "changed-meanwhile"


class IfMatchNeeded(ShowError):
    """Two people may edit it, so whoever does says what they read."""

    status = 428
    code = "if-match-needed"


def etag_of(data: Any) -> str:
    """Return a tag that changes whenever what is told does."""
    text = json.dumps(data, sort_keys=True, ensure_ascii=False, cls=JSONEncoder)
    return f'"{hashlib.sha256(text.encode()).hexdigest()[:32]}"'


def _tags(header: str) -> set[str]:
    # A proxy that packs the answer marks the tag as weak; it is still ours.
    return {tag.removeprefix("W/") for tag in parse_etags(header)}


class View(APIView):
    """A GET is answered with an ETag, and with 304 to whoever has that already (RFC 9110, 13.1)."""

    def finalize_response(self, request: Request, response: Any, *args: Any, **more: Any) -> Any:
        if request.method in ("GET", "HEAD") and isinstance(response, Response):
            response = _tagged(request, response)
        return super().finalize_response(request, response, *args, **more)


def _tagged(request: Request, response: Response) -> Response:
    if response.status_code != 200:
        return response
    response.headers.setdefault("ETag", etag_of(response.data))
    response.headers.setdefault("Cache-Control", CACHED)
    known = _tags(request.headers.get("If-None-Match", ""))
    if response.headers["ETag"] not in known and "*" not in known:
        return response
    return Response(status=304, headers=dict(response.headers))


@contextmanager
def as_it_was(
    request: Request, show: Show, told: Callable[[], Any], *, needed: bool = False
) -> Iterator[None]:
    """Let a change pass only if the thing still is as the sender read it.

    `told()` says what a GET would tell now. With If-Match the show's row is locked until the
    change is done, so that of two people with the same tag one is refused.
    """
    header = request.headers.get("If-Match")
    if header is None:
        if needed:
            raise IfMatchNeeded("Read it first, then send its ETag as If-Match.")
        yield
        return
    with transaction.atomic():
        Show.objects.select_for_update().get(pk=show.pk)
        tags = _tags(header)
        if "*" not in tags and etag_of(told()) not in tags:
            raise ChangedMeanwhile("Somebody changed this since you read it. Read it again.")
        yield
