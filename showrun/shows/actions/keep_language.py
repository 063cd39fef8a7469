"""Keep in which language a person reads, so that what they are mailed is in it."""

from __future__ import annotations

from showrun.shows.models import Person


def keep_language(*, person: Person, language: str) -> None:
    """Keep the language a person signed in in, or chose."""
    if person.language != language:
        person.language = language
        person.save(update_fields=["language"])
