"""A state built once for a whole module: each test begins at it, the module's end undoes it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db import transaction


@contextmanager
def kept_for_module(blocker: Any) -> Iterator[None]:
    """Hold one transaction open around the module's tests, which roll back to its start.

    For a module-scoped fixture that takes `django_db_setup` and `django_db_blocker`.
    """
    with blocker.unblock(), transaction.atomic():
        yield
        transaction.set_rollback(True)
