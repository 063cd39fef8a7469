"""What becomes of a request that names a key: done, answered again, or refused."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import Enum

KEPT_FOR = timedelta(hours=24)
# Longer than any request of ours may take: its process was ended, and what it did was undone.
GIVEN_UP_AFTER = timedelta(minutes=5)


@dataclass(frozen=True)
class Earlier:
    """What is known of a key: when it first came, with what body, and whether it was answered."""

    body_hash: str
    claimed_at: datetime
    answered: bool


class Fate(Enum):
    """What is done about a request with a key that came before."""

    REPLAY = "the answer of then is given again"
    OTHER_BODY = "refused: the key belongs to another body"
    IN_PROGRESS = "refused: it is being answered now"
    TAKE_OVER = "done now: the first was broken off, or its day is over"


def fate_of(earlier: Earlier, *, body_hash: str, at: datetime) -> Fate:
    """Say what becomes of a request whose key came before.

    Parameters
    ----------
    earlier : Earlier
    body_hash : str
        Of the request now.
    at : datetime

    Returns
    -------
    Fate

    Notes
    -----
    A key lives for `KEPT_FOR`. One without an answer belongs to a request that is still being
    done, or to one that was broken off: after `GIVEN_UP_AFTER` another may take it over.

    Source
    ------
    IETF httpapi working group, draft-ietf-httpapi-idempotency-key-header, Error Scenarios (same
    key, other body: 422); 409 while it is being done and the replay from memory; both spans are
    ours.

    Examples
    --------
    >>> from datetime import UTC, datetime, timedelta
    >>> noon = datetime(2027, 5, 15, 12, tzinfo=UTC)
    >>> answered = Earlier(body_hash="a", claimed_at=noon, answered=True)
    >>> fate_of(answered, body_hash="a", at=noon + timedelta(hours=3)).name
    'REPLAY'
    >>> fate_of(answered, body_hash="b", at=noon + timedelta(hours=3)).name
    'OTHER_BODY'
    >>> fate_of(answered, body_hash="b", at=noon + timedelta(hours=24)).name
    'TAKE_OVER'
    """
    age = at - earlier.claimed_at
    if age >= KEPT_FOR:
        return Fate.TAKE_OVER
    if body_hash != earlier.body_hash:
        return Fate.OTHER_BODY
    if earlier.answered:
        return Fate.REPLAY
    return Fate.TAKE_OVER if age >= GIVEN_UP_AFTER else Fate.IN_PROGRESS
