"""The fingerprint of a result: the same for the same places, another for any other."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any, NamedTuple


class HashedLine(NamedTuple):
    """What of an entry's line is fingerprinted: what anybody is told or paid."""

    entry: int
    place: int
    total: Decimal
    by_section: Mapping[str, Decimal]
    purse_cents: int


def result_hash(
    *,
    inputs: str,
    method: str,
    rule_version: str,
    lines: Iterable[HashedLine],
    gaps: Sequence[Mapping[str, Any]] = (),
) -> str:
    """Return the SHA-256 of a result written in one way.

    Parameters
    ----------
    inputs : str
        Fingerprint of the marks and the rules declared.
    method, rule_version : str
    lines : iterable of HashedLine
        In any order; points count to 0.01, so that a database may keep them as it likes.
    gaps : sequence of mapping
        Cards missing, in any order.

    Returns
    -------
    str
        64 hexadecimal digits.

    Source
    ------
    SHA-256: FIPS 180-4. What is written is our own rule.

    Example
    -------
    >>> line = HashedLine(4, 1, Decimal("61"), {"trail": Decimal("61")}, 6000)
    >>> same = line._replace(total=Decimal("61.00"))
    >>> rest = {"inputs": "ab", "method": "plain", "rule_version": "3"}
    >>> result_hash(lines=[line], **rest) == result_hash(lines=[same], **rest)
    True
    """
    body = {
        "inputs": inputs,
        "method": method,
        "rule_version": rule_version,
        "placings": sorted(
            [
                line.entry,
                line.place,
                f"{line.total:.2f}",
                sorted((code, f"{points:.2f}") for code, points in line.by_section.items()),
                line.purse_cents,
            ]
            for line in lines
        ),
        "gaps": sorted(json.dumps(gap, sort_keys=True) for gap in gaps),
    }
    text = json.dumps(body, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()
