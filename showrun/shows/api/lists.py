"""Long lists in pages: `limit` and `offset` come in, a `Link` to what follows goes out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.utils.urls import replace_query_param

PAGE = 100
PAGE_MAX = 500
FURTHEST = 1_000_000


class PageAsked(serializers.Serializer):
    """Which part of a list is wanted."""

    limit = serializers.IntegerField(
        min_value=1, max_value=PAGE_MAX, default=PAGE, help_text="How many at most."
    )
    offset = serializers.IntegerField(
        min_value=0, max_value=FURTHEST, default=0, help_text="How many to pass over."
    )


def read_asked(shape: type[serializers.Serializer[Any]], request: Request) -> dict[str, Any]:
    """Return what stands behind the question mark; a fault is answered parameter by parameter."""
    asked = shape(data=request.query_params)
    asked.is_valid(raise_exception=True)
    return dict(asked.validated_data)


def page_of(
    rows: QuerySet[Any] | Sequence[Any], request: Request, asked: dict[str, Any]
) -> tuple[list[Any], dict[str, str]]:
    """Return the rows of the page, and the headers that lead on (RFC 8288)."""
    limit, offset = asked["limit"], asked["offset"]
    found = list(rows[offset : offset + limit + 1])
    here = request.build_absolute_uri()
    links = []
    if len(found) > limit and offset + limit <= FURTHEST:
        links.append(f'<{replace_query_param(here, "offset", offset + limit)}>; rel="next"')
    if offset:
        back = max(0, offset - limit)
        links.append(f'<{replace_query_param(here, "offset", back)}>; rel="prev"')
    return found[:limit], {"Link": ", ".join(links)} if links else {}
