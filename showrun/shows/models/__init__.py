"""The nouns of a show: the show itself, its classes, its people and its record."""

from showrun.shows.models.person import Person
from showrun.shows.models.record import AuditEntry
from showrun.shows.models.show import RoleHeld, Show, ShowClass

__all__ = ["AuditEntry", "Person", "RoleHeld", "Show", "ShowClass"]
