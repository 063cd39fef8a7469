"""What can go wrong, said once: every door turns these into its own kind of answer.

Each error carries a sentence for the person, a stable code for programs and, where a
form is concerned, the fields at fault.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from showrun.language import gettext as _
from showrun.language import gettext_noop as N_


class ShowError(Exception):
    """A refusal with a sentence a show secretary, judge or exhibitor can act on."""

    status = 400
    code = "refused"
    title = N_("That cannot be done")

    def __init__(
        self,
        detail: str,
        *,
        code: str | None = None,
        fields: Mapping[str, str] | None = None,
        **facts: Any,
    ) -> None:
        super().__init__(detail)
        self.detail = detail
        self.code = code or self.code
        self.fields = dict(fields or {})
        self.facts = facts


class InvalidInput(ShowError):
    """What was sent does not make sense as it stands."""

    status = 422
    code = "invalid-input"
    title = N_("Something in the form needs mending")


class NotAllowed(ShowError):
    """The person is known, but this is not theirs to do."""

    status = 403
    code = "not-allowed"
    title = N_("Not yours to do")


class NotReleased(NotAllowed):
    """It is theirs, but the show has not released it."""

    code = "not-released"
    title = N_("Not released yet")


class NotFound(ShowError):
    """Nothing there, or nothing this person may know of."""

    status = 404
    code = "not-found"
    title = N_("Not found")

    def __init__(self, detail: str | None = None, **more: Any) -> None:
        super().__init__(detail or _("There is nothing at this address for you."), **more)


class NotYet(ShowError):
    """Right in itself, but the show is not at that point."""

    status = 409
    code = "not-yet"
    title = N_("Not yet")


class Conflict(ShowError):
    """Somebody or something else stands in the way."""

    status = 409
    code = "conflict"
    title = N_("That collides with something")


class Gone(ShowError):
    """It existed, and was used up, revoked or has run out."""

    status = 410
    code = "gone"
    title = N_("No longer valid")


class TooOften(ShowError):
    """Asked again and again in a short while; it will be answered later."""

    status = 429
    code = "throttled"
    title = N_("Too many requests")

    def __init__(self, detail: str, *, retry_after_s: int) -> None:
        super().__init__(detail)
        self.retry_after_s = retry_after_s
