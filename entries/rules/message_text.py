"""What a message to exhibitors may be, and when it is the same one sent twice."""

from __future__ import annotations

from datetime import datetime, timedelta
from unicodedata import category

from showrun.language import gettext as _

LONGEST_MESSAGE = 2000
SENT_TWICE_WITHIN = timedelta(minutes=10)


def fault_of_message(text: str) -> str:
    """Say what is wrong with a message, or nothing.

    Parameters
    ----------
    text : str

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> fault_of_message("  ")
    'Write what you want to tell them.'
    >>> fault_of_message("Water at gate 2 until noon.")
    ''
    """
    if not text.strip():
        return _("Write what you want to tell them.")
    if len(text.strip()) > LONGEST_MESSAGE:
        return _("The message is longer than {most} letters.").format(most=LONGEST_MESSAGE)
    if any(category(sign) in ("Cc", "Cs") and sign not in "\n\r\t" for sign in text):
        return _("The message holds a sign that cannot be printed.")
    return ""


def sent_twice(last_at: datetime | None, at: datetime) -> bool:
    """Say whether the same words to the same readers are a second tap rather than a reminder.

    Parameters
    ----------
    last_at : datetime or None
        When these words last went to these readers.
    at : datetime

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> noon = datetime(2127, 5, 14, 12)
    >>> sent_twice(noon, noon + timedelta(minutes=1)), sent_twice(noon, noon + timedelta(hours=2))
    (True, False)
    """
    return last_at is not None and at - last_at < SENT_TWICE_WITHIN
