"""Columns of restored rows that are made of keys, or that no two shows may share.

`OWN_WAYS` and the columns of UUIDs are all there are; `tests/flows/test_archive_walk.py` fails on
a column that no two shows may share and that has no way here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from hashlib import sha256
from typing import Any
from uuid import NAMESPACE_URL, UUID, uuid5

from entries.actions.charge_entry import entry_key
from entries.models import Entry, Posting
from entries.queries.purses import purse_key
from judging.models import Season, SeasonClass
from judging.models.device import PAPER_TOKEN
from judging.rules.round.events import body_hash
from reports.rules.code import RANDOM_BYTES, make_code
from showrun.shows.models import ShowClass

Row = dict[str, Any]
# What is known outside the service, by table: it stays where nobody here has any of it.
KNOWN_OUTSIDE = {
    "judging.papercard": "id",  # the number printed on the card
    "reports.paper": "code",  # printed on the paper
    "entries.onlinepayment": "reference",  # the payment provider's own
}
OWN_WAYS = {
    "shows.show.slug": "the address asked for",
    "judging.season.slug": "an address nobody has",
    "judging.device.token_hash": "the hash of no token",
    "judging.papercard.id": "stays where it is free",
    "reports.paper.code": "stays where it is free, else made of the first",
    "entries.onlinepayment.reference": "stays where it is free, else made of the first",
}
# What is posted once for each entry, and how often a purse may have been corrected.
PURPOSES = ("fee", "deposit")
MOST_TURNS = 40
LONGEST_SLUG = 50
LONGEST_ENDING = 30

Keys = Mapping[str, Mapping[Any, Any]]


def namespace_of(slug: str) -> UUID:
    """Return what new UUIDs are made from: the same archive at the same address gives the same."""
    return uuid5(NAMESPACE_URL, f"showrun:archive:{slug}")


def device_token(row: Row, new: Row, slug: str) -> str:
    """Return what looks like the hash of no token: nobody speaks for a phone that came back."""
    if row["token_hash"]:
        return f"{PAPER_TOKEN}{new['judge_id']}"
    return f"restored {uuid5(namespace_of(slug), str(row['id']))}"


def event_hash(row: Row, new: Row) -> str:
    """Fingerprint a touch anew; one that was not as it was sent is not made to look so."""
    right = body_hash(row["body"]) == row["body_hash"]
    return body_hash(new["body"]) if right else str(new["body_hash"])


def posting_key(row: Row, new: Row, keys: Keys) -> UUID:
    """Return the key under which the same thing is not posted twice, here as there."""
    for before, now in _keys_of(row, new, keys):
        if str(before) == row["key"]:
            return now
    return UUID(str(new["key"]))


def _keys_of(row: Row, new: Row, keys: Keys) -> Iterator[tuple[UUID, UUID]]:
    """Yield the keys a posting may have by what it is for, there and here."""
    if row["entry_id"] is None:
        return
    there, here = Entry(pk=row["entry_id"]), Entry(pk=new["entry_id"])
    for purpose in PURPOSES:
        yield entry_key(there, purpose), entry_key(here, purpose)
    if row["kind"] == Posting.Kind.PURSE:
        for before, now in keys[ShowClass._meta.label_lower].items():
            for turn in range(MOST_TURNS):
                yield (
                    purse_key(ShowClass(pk=before), there, turn),
                    purse_key(ShowClass(pk=now), here, turn),
                )


def paper_code(code: str, slug: str) -> str:
    """Make the code of a copy's paper of the original's: not to be guessed, and always the same."""
    return make_code(sha256(f"{namespace_of(slug)} {code}".encode()).digest()[:RANDOM_BYTES])


def copied_reference(reference: str, slug: str) -> str:
    """Name a copy's online payment so that the provider's notice goes to the original alone."""
    return f"copy {uuid5(namespace_of(slug), reference)}"


def same_season(there: Season, row: Row, slug: str) -> bool:
    """Say whether a season here is the archive's and does not count the show of this address."""
    told = (row["name"], row["points"], row["best_of"])
    counted = SeasonClass.objects.filter(season=there, show_class__show__slug=slug)
    return told == (there.name, there.points, there.best_of) and not counted.exists()


def season_slug(slug: str, show_slug: str) -> str:
    """Return an address for a season that nobody here has."""
    free, n = slug, 1
    while Season.objects.filter(slug=free).exists():
        ending = f"-{show_slug}"[:LONGEST_ENDING] + (f"-{n}" if n > 1 else "")
        free, n = slug[: LONGEST_SLUG - len(ending)] + ending, n + 1
    return free
