"""Passkeys: at which address they work, for how long a question is good, what one is called."""

from __future__ import annotations

import hashlib
import ipaddress
from dataclasses import dataclass
from datetime import datetime, timedelta
from urllib.parse import urlsplit

ASKED_FOR = timedelta(minutes=5)
MOST_PASSKEYS = 20  # of one person
NAME_MAX = 60  # letters
_USUAL_PORT = {"http": 80, "https": 443}


@dataclass(frozen=True)
class Place:
    """Where passkeys of this service work: what a browser signs, and what a key belongs to."""

    origin: str
    rp_id: str


def passkey_place(*, public_url: str, scheme: str, host: str) -> Place | None:
    """Say for which address passkeys are made and taken; None where there can be none.

    Parameters
    ----------
    public_url : str
        The service's address for people; empty, the address asked for counts, which must have
        been held against the names the service answers to.
    scheme, host : str
        Of the address asked for; the host with its port, if it has one.

    Returns
    -------
    Place or None
        None at another address than the public one, at a bare number, and without TLS except on
        the machine itself: a browser makes no passkey there.

    Source
    ------
    W3C, Web Authentication Level 2, 4 (RP ID is a valid domain), 5.1.3 and 7 (origin); W3C,
    Secure Contexts, 3.1 (localhost). Sections from memory.

    Examples
    --------
    >>> passkey_place(public_url="https://show.example", scheme="https", host="show.example")
    Place(origin='https://show.example', rp_id='show.example')
    >>> passkey_place(public_url="", scheme="http", host="localhost:8000").origin
    'http://localhost:8000'
    >>> passkey_place(public_url="", scheme="http", host="127.0.0.1:8000")
    """
    asked = _place(f"{scheme}://{host}")
    meant = _place(public_url) if public_url else asked
    return meant if asked == meant else None


def _place(address: str) -> Place | None:
    try:
        parts = urlsplit(address)
        name, port = (parts.hostname or "").lower(), parts.port
    except ValueError:
        return None
    if parts.scheme not in _USUAL_PORT or not name or _is_number(name):
        return None
    local = name == "localhost" or name.endswith(".localhost")
    if parts.scheme != "https" and not local:
        return None
    shown = "" if port in (None, _USUAL_PORT[parts.scheme]) else f":{port}"
    return Place(f"{parts.scheme}://{name}{shown}", name)


def _is_number(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def still_good(*, asked_at: datetime, at: datetime) -> bool:
    """Say whether an answer comes in time; a question is asked once and answered once.

    Parameters
    ----------
    asked_at, at : datetime
        When the browser was given the question, and now.

    Source
    ------
    W3C, Web Authentication Level 2, 13.4.3 (a challenge is random and counts once) and 15.1 (five
    minutes where a person is verified). Sections from memory.

    Examples
    --------
    >>> from datetime import UTC
    >>> noon = datetime(2027, 5, 15, 12, tzinfo=UTC)
    >>> still_good(asked_at=noon, at=noon + timedelta(minutes=4))
    True
    >>> still_good(asked_at=noon, at=noon + timedelta(minutes=6))
    False
    """
    return timedelta(0) <= at - asked_at <= ASKED_FOR


def user_handle(person_id: int) -> bytes:
    """Return what an authenticator keeps of a person: 32 bytes that say nothing of them.

    Parameters
    ----------
    person_id : int
        Of the person's row, which never changes.

    Source
    ------
    W3C, Web Authentication Level 2, 5.4.3 and 14.6.1 (no personal information in a user handle;
    at most 64 bytes; sections from memory).

    Examples
    --------
    >>> len(user_handle(7)), user_handle(7) == user_handle(8)
    (32, False)
    """
    return hashlib.sha256(f"showrun passkey {person_id}".encode()).digest()


def passkey_name(typed: str) -> str:
    """Return the name of a passkey as it is kept: one line, a word of its own where none is given.

    Parameters
    ----------
    typed : str
        As typed; `NAME_MAX` [letters] of it are kept.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> passkey_name("  My \\n phone "), passkey_name("")
    ('My phone', 'Passkey')
    """
    line = "".join(sign if sign.isprintable() else " " for sign in typed)
    return " ".join(line.split())[:NAME_MAX].strip() or "Passkey"
