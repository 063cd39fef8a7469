"""Whether a card may be handed in as it stands: whole, and the card the judge signed."""

from __future__ import annotations

from judging.rules.round.events import EventRefused

ROWS_MISSING = "rows-missing"
CARD_DIFFERS = "card-differs"
# A hand-in held for one of these takes effect by itself as soon as it can.
WAITS = frozenset({ROWS_MISSING, CARD_DIFFERS})


def demand_card_signed(*, n_lacking: int, signed: str | None, here: str) -> None:
    """Let a hand-in pass where every row has its mark and the card is the one signed.

    Parameters
    ----------
    n_lacking : int
        How many rows of the rig have no mark here.
    signed : str or None
        The card's fingerprint on the phone when the judge handed it in; None where the phone
        does not tell, and on paper.
    here : str
        The card's fingerprint as it stands.

    Raises
    ------
    EventRefused
        ``rows-missing`` or ``card-differs``; both wait. Touches that are still on their way can
        make the card whole and the same, else the judge looks at it again and signs anew.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> demand_card_signed(n_lacking=0, signed="3fa291bc", here="3fa291bc")
    >>> demand_card_signed(n_lacking=0, signed=None, here="3fa291bc")
    >>> try:
    ...     demand_card_signed(n_lacking=0, signed="00000000", here="3fa291bc")
    ... except EventRefused as refused:
    ...     print(refused.code)
    card-differs
    """
    if n_lacking:
        raise EventRefused(
            ROWS_MISSING,
            "Rows of this card are still without a mark; it is handed in when they are in.",
        )
    if signed is not None and signed != here:
        raise EventRefused(
            CARD_DIFFERS,
            "The card the judge signed is not the card the office has. It is handed in when both "
            "are the same; else the judge looks at it again and signs anew.",
        )
