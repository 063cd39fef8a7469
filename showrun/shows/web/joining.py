"""The first time: an address nobody here knows gets a link that asks for a name."""

from __future__ import annotations

from django import forms
from django.conf import settings
from django.core import signing

from showrun.language import gettext_noop as N_
from showrun.shows.web.office_form import OfficeForm

SALT = "showrun.join"


class JoinForm(OfficeForm):
    """What a new person is called."""

    name = forms.CharField(
        max_length=120, error_messages={"required": N_("Your name, as it should stand on papers.")}
    )


def joining_token(email: str) -> str:
    """Return a signed token that proves the mail to this address was read."""
    return signing.dumps(email, salt=SALT)


def email_in(token: str) -> str | None:
    """Return the address the token was made for, None when cut short or too old."""
    try:
        email = signing.loads(token, salt=SALT, max_age=settings.SESAME_MAX_AGE)
    except signing.BadSignature:
        return None
    return str(email)
