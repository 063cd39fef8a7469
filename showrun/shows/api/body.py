"""Read what was sent, by the shape it should have."""

from __future__ import annotations

from typing import Any

from rest_framework.request import Request
from rest_framework.serializers import Serializer


def read_body(shape: type[Serializer[Any]], request: Request) -> dict[str, Any]:
    """Return the fields of the body; a body of another shape is answered field by field."""
    given = shape(data=request.data)
    given.is_valid(raise_exception=True)
    return dict(given.validated_data)
