"""The nouns of a show: the show itself, its classes, its people and its record."""

from showrun.shows.models.kept_answer import KeptAnswer
from showrun.shows.models.passkey import Passkey
from showrun.shows.models.person import Person
from showrun.shows.models.record import AuditEntry
from showrun.shows.models.show import RoleHeld, Show, ShowClass

__all__ = ["AuditEntry", "KeptAnswer", "Passkey", "Person", "RoleHeld", "Show", "ShowClass"]
