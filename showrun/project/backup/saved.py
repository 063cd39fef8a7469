"""What is known of a database that was written into a file."""

from __future__ import annotations

from typing import NamedTuple


class Saved(NamedTuple):
    """The rows of each table, the migrations it has had, and the engine's version."""

    tables: dict[str, int]
    migrations: tuple[str, ...]
    version: str


def unlike(found: dict[str, int], told: dict[str, int]) -> str:
    """Name the first table that has not the rows it should have; empty when all have."""
    for name in sorted(found.keys() | told.keys()):
        if found.get(name) != told.get(name):
            return f"{name} has {found.get(name, 'no')} rows, {told.get(name, 'none')} were written"
    return ""
