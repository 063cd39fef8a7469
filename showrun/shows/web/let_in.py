"""The one way in, however somebody proved who they are."""

from __future__ import annotations

from django.contrib.auth import login
from django.http import HttpRequest
from django.utils import translation

from showrun.shows.actions.keep_language import keep_language
from showrun.shows.models import Person


def let_in(request: HttpRequest, person: Person, *, backend: str | None = None) -> None:
    """Begin a session of the person's own, and keep the language they signed in in."""
    login(request, person, backend=backend)
    keep_language(person=person, language=translation.get_language() or "")
