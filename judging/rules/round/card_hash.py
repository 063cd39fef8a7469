"""The fingerprint of a card, the same on the phone and here, to prove that all was sent."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from decimal import Decimal

from judging.rules.cards.scorecard import Mark


def plain_number(value: Decimal | None) -> str:
    """Write a number without exponent or trailing zeros.

    Examples
    --------
    >>> plain_number(Decimal("7.50")), plain_number(Decimal("10")), plain_number(None)
    ('7.5', '10', '')
    """
    if value is None:
        return ""
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def card_hash(marks: Mapping[str, Mark]) -> str:
    """Return the SHA-256 of the card's lines ``criterion=state:value``, sorted.

    Source
    ------
    SHA-256: FIPS 180-4. The lines are our own rule.

    Examples
    --------
    >>> card_hash({})[:8]
    'e3b0c442'
    """
    lines = sorted(
        f"{code}={mark.state.value}:{plain_number(mark.value)}" for code, mark in marks.items()
    )
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()
