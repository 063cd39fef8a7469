"""JSON as programs send it, with a limit to its size and to how deep it nests."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import IO, Any

from rest_framework.exceptions import ParseError
from rest_framework.parsers import JSONParser

from showrun.errors import ShowError

BYTES_MAX = 1_000_000
DEPTH_MAX = 32


class BodyTooLarge(ShowError):
    """More than anything we take needs."""

    status = 413
    code = "body-too-large"


class PlainJSONParser(JSONParser):
    """Reads a body of at most `BYTES_MAX` bytes and `DEPTH_MAX` levels.

    A number too large to be one, such as 1e999, is kept as the text it was sent as: it can be
    refused in words later, while infinity could be neither stored nor sent back.
    """

    def parse(
        self,
        stream: IO[Any],
        media_type: str | None = None,
        parser_context: Mapping[str, Any] | None = None,
    ) -> Any:
        body = stream.read(BYTES_MAX + 1)
        if len(body) > BYTES_MAX:
            raise BodyTooLarge(f"At most {BYTES_MAX // 1000} kB of JSON at once.")
        try:
            found = json.loads(body.decode(), parse_float=_number, parse_constant=_refuse)
        except (ValueError, RecursionError) as fault:
            raise ParseError(f"This is not JSON that can be read: {fault}.") from fault
        if _too_deep(found):
            raise ParseError(f"The JSON nests deeper than {DEPTH_MAX} levels.")
        return found


def _number(text: str) -> float | str:
    number = float(text)
    return number if math.isfinite(number) else text


def _refuse(name: str) -> None:
    raise ValueError(f"{name} is no number of JSON")


def _too_deep(found: Any) -> bool:
    level = [found]
    for _ in range(DEPTH_MAX):
        level = [
            inner
            for outer in level
            if isinstance(outer, dict | list)
            for inner in (outer.values() if isinstance(outer, dict) else outer)
        ]
        if not level:
            return False
    return True
