"""`Idempotency-Key`: a request sent twice is done once, and answered twice the same."""

from __future__ import annotations

import functools
import hashlib
import json
import re
from collections.abc import Callable
from typing import Any

from django.db import transaction
from django.utils import timezone
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.utils.encoders import JSONEncoder

from showrun.errors import ShowError
from showrun.shows.actions.keep_answer import Turn, keep, let_go, take_turn
from showrun.shows.api.problems import MEDIA_TYPE
from showrun.shows.queries import person_of

Handler = Callable[..., Response]
# What an answer with one of these says was worked out: it is said again. Whatever else was
# refused was refused before anything was looked at, and may be tried again with the same key.
KEPT = (200, 201, 202, 204, 409, 410, 422)
REPLAYED = "Idempotency-Replayed"


class BadKey(ShowError):
    """The key is no key."""

    code = "bad-key"


def once(handler: Handler) -> Handler:
    """Heed the key of a request; without one everything is as ever."""

    @functools.wraps(handler)
    def heeded(self: Any, request: Request, *args: Any, **named: Any) -> Response:
        header = request.headers.get("Idempotency-Key")
        if header is None:
            return handler(self, request, *args, **named)
        turn = take_turn(
            person=person_of(request.user),
            path=f"{request.method} {request.path}",
            key=_read(header),
            body_hash=_hash(request.data),
            at=timezone.now(),
        )
        if not isinstance(turn, Turn):
            kind = MEDIA_TYPE if (turn.status or 0) >= 400 else None
            body = json.loads(turn.body) if turn.body else None
            headers = {REPLAYED: "true"}
            return Response(body, status=turn.status, headers=headers, content_type=kind)
        try:
            return _answer(self, turn, lambda: handler(self, request, *args, **named))
        except BaseException:
            let_go(turn=turn)
            raise

    vars(heeded)["once"] = True
    return heeded


def _answer(view: Any, turn: Turn, does: Callable[[], Response]) -> Response:
    """Do it and keep the answer, both or neither."""
    response: Response
    try:
        with transaction.atomic():
            response = does()
            keep(turn=turn, status=response.status_code, body=_text(response))
            return response
    except Exception as fault:
        response = view.handle_exception(fault)  # raises what is no refusal
    if response.status_code in KEPT and response.data.get("code") != "in-progress":
        keep(turn=turn, status=response.status_code, body=_text(response))
    else:
        let_go(turn=turn)
    return response


def _read(header: str) -> str:
    """Return the key: a string of a structured field, or the same without its quotes."""
    key = header[1:-1] if len(header) > 1 and header[0] == header[-1] == '"' else header
    if not re.fullmatch(r"[!#-~]{1,255}", key):
        raise BadKey("An Idempotency-Key is one to 255 printable letters, such as a UUID.")
    return key


def _hash(body: Any) -> str:
    text = json.dumps(body, sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def _text(response: Response) -> str:
    return "" if response.data is None else json.dumps(response.data, cls=JSONEncoder)
