"""One-time sign-in links, as they are mailed."""

from __future__ import annotations

from django.urls import reverse
from sesame.utils import get_query_string

from showrun.shows.models import Person


def sign_in_link(person: Person, base: str) -> str:
    """Return an address that signs the person in, once."""
    return f"{base}{reverse('shows:sign-in-link')}{get_query_string(person)}"
