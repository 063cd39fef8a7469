"""What belongs to a show, found by walking the models from `Show` down.

A new model is in the archive by itself as soon as it links, without a gap, to something of a show.
What is not reached stands in `LEFT_OUT` with the reason; the tests hold both against the models.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any

from django.apps import apps
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder
from django.db.models import FileField, ForeignKey, JSONField, Model, QuerySet, UUIDField
from django.db.models.fields import Field

from reports.rules.archive_links import KEYS
from showrun.shows.models import Person, Show

APPS = ("shows", "entries", "judging", "reports")
SHOW = Show._meta.label_lower
PERSON = Person._meta.label_lower
# Rows several shows share: archived where a row of the show links to them, found again by these.
SHARED: dict[str, tuple[str, ...]] = {
    PERSON: ("email",),
    "entries.outfit": ("exhibitor", "wagon_name"),
    "judging.season": ("slug",),
}
LEFT_OUT = {
    "shows.keptanswer": "of a person's program, for a day; a restored show is asked anew",
    "shows.passkey": "of a person, not of a show; it works at one address only",
    "shows.person_groups": "rights of the service, not of a show",
    "shows.person_user_permissions": "rights of the service, not of a show",
    "judging.pairingcode": "a secret, even as a hash; used up within the hour",
    "judging.calendarlink": "a secret, even as a hash; links are made anew",
}
# Columns whose value stays behind; see `told_of_token`.
BLANKED = ("judging.device.token_hash",)


@dataclass(frozen=True)
class Table:
    """A model with the lookup by which its rows are found; a shared one has none."""

    model: type[Model]
    lookup: str

    @property
    def name(self) -> str:
        """App and model, such as ``entries.entry``."""
        return self.model._meta.label_lower

    @property
    def shared(self) -> bool:
        """Whether several shows may have a part in its rows."""
        return self.name in SHARED

    @property
    def columns(self) -> tuple[Field[Any, Any], ...]:
        """The columns, key first."""
        return tuple(self.model._meta.concrete_fields)

    @property
    def key(self) -> Field[Any, Any]:
        """The column of the key."""
        key = self.model._meta.pk
        assert key is not None
        return key

    @property
    def links(self) -> tuple[ForeignKey[Any, Any], ...]:
        """The columns that link to another row."""
        return tuple(one for one in self.columns if isinstance(one, ForeignKey))

    @property
    def own_links(self) -> tuple[str, ...]:
        """The columns that link to a row of this very table."""
        return tuple(one.attname for one in self.links if table_of(one) == self.name)

    @property
    def files(self) -> tuple[str, ...]:
        """The columns that name a file."""
        return tuple(one.attname for one in self.columns if isinstance(one, FileField))

    @property
    def documents(self) -> tuple[str, ...]:
        """The columns of JSON."""
        return tuple(one.attname for one in self.columns if isinstance(one, JSONField))

    @property
    def ids(self) -> tuple[str, ...]:
        """The columns of UUIDs that no two rows may share."""
        return tuple(
            one.attname for one in self.columns if isinstance(one, UUIDField) and one.unique
        )

    def leads_to(self) -> set[str]:
        """Return the tables a row may link to, by a column or inside JSON."""
        by_column = {table_of(one) for one in self.links}
        inside = {
            table for name in self.documents for _, table in KEYS.get(f"{self.name}.{name}", ())
        }
        return (by_column | inside) - {self.name}


def table_of(link: ForeignKey[Any, Any]) -> str:
    """Return the table a column links to."""
    return str(link.related_model._meta.label_lower)


@cache
def models_here() -> tuple[type[Model], ...]:
    """Return every model of the four apps, those of many-to-many links among them."""
    found = [apps.get_app_config(app).get_models(include_auto_created=True) for app in APPS]
    return tuple(model for models in found for model in models)


@cache
def show_tables() -> tuple[Table, ...]:
    """Return the tables of a show, persons left out, in an order in which links point back.

    Raises `ValueError` where models link in a circle.
    """
    lookups = _lookups()
    found = [
        Table(model, lookups.get(model._meta.label_lower, ""))
        for model in models_here()
        if model._meta.label_lower in lookups or model._meta.label_lower in SHARED
    ]
    waiting = [table for table in found if table.name not in (PERSON, *LEFT_OUT)]
    names = {table.name for table in waiting}
    placed: list[Table] = []
    while waiting:
        there = {table.name for table in placed}
        ready = next((t for t in waiting if t.leads_to() & names <= there), None)
        if ready is None:
            raise ValueError(f"models link in a circle: {', '.join(t.name for t in waiting)}")
        waiting.remove(ready)
        placed.append(ready)
    return tuple(placed)


def _lookups() -> dict[str, str]:
    """Return for every model that links to a show, near or far, the shortest lookup of it."""
    found = {SHOW: "pk"}
    while True:
        further = {}
        for model in models_here():
            links = [f for f in model._meta.concrete_fields if isinstance(f, ForeignKey)]
            ways = [
                f"{link.name}__{found[table_of(link)]}".removesuffix("__pk")
                for link in links
                if not link.null and table_of(link) in found
            ]
            if ways and model._meta.label_lower not in found:
                further[model._meta.label_lower] = ways[0]
        if not further:
            return found
        found |= further


def rows_of(table: Table, show: Show) -> QuerySet[Any]:
    """Return the show's rows of a table by key."""
    rows = table.model._base_manager.order_by("pk")
    if not table.shared:
        return rows.filter(**{table.lookup: show.pk})
    linked: set[int] = set()
    for other in show_tables():
        for link in other.links if not other.shared else ():
            if table_of(link) == table.name:
                keys = rows_of(other, show).order_by().values_list(link.attname, flat=True)
                linked.update(key for key in keys.distinct() if key is not None)
    return rows.filter(pk__in=linked)


def people(keys: set[int]) -> Iterator[dict[str, Any]]:
    """Yield who these persons are, and no more of them, by key."""
    wanted = sorted(keys)
    for start in range(0, len(wanted), 500):
        some = Person.objects.filter(pk__in=wanted[start : start + 500]).order_by("pk")
        for key, email, name in some.values_list("pk", "email", "name"):
            yield {"id": key, "email": email, "name": name}


def migrations_here() -> dict[str, str]:
    """Return the last migration of each app that this database has."""
    applied = MigrationRecorder(connection).applied_migrations()
    return {app: max(name for label, name in applied if label == app) for app in APPS}
