"""End every session of a person, and every sign-in link that still waits in their mail."""

from __future__ import annotations

from showrun.shows.models import Person


def sign_out_everywhere(person: Person) -> None:
    """Change what sessions and links are held against; nobody has a password to lose by it."""
    person.set_unusable_password()
    person.save(update_fields=["password"])
