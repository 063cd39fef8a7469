"""The words people read, in their language: what rules say them through, without Django.

Below everything else and dependent on nothing: until the project puts its translations in place,
every sentence is said as it is written, in English. Write a sentence whole, with named gaps, so
that another language may order it in its own way:

    _("{wagon} is next at {time}.").format(wagon=..., time=...)

Words that are stored, signed, hashed or written into the record are not said through here: what
is kept must not depend on who happened to read a page.
"""

from __future__ import annotations

import gettext as _standard
from collections.abc import Sequence
from contextlib import AbstractContextManager, nullcontext
from datetime import date, datetime
from typing import Protocol


class Translator(Protocol):
    """What says a sentence in the reader's language."""

    def gettext(self, message: str) -> str:
        """Say a sentence."""
        ...

    def ngettext(self, singular: str, plural: str, number: int) -> str:
        """Say a sentence in the form its number asks for."""
        ...

    def pgettext(self, context: str, message: str) -> str:
        """Say a word that stands for two things, in the sense named."""
        ...

    def override(self, language: str) -> AbstractContextManager[None]:
        """Speak one language for a while, whoever reads."""
        ...


class _English(_standard.NullTranslations):
    """What is said before translations are in place, and where there are none."""

    def override(self, language: str) -> AbstractContextManager[None]:
        """Nothing else can be spoken here."""
        return nullcontext()


_translator: Translator = _English()


def install_translator(translator: Translator) -> None:
    """Put the translations in place: done once, when the project starts."""
    global _translator  # noqa: PLW0603  # one process, one way of speaking; the language is per reader
    _translator = translator


def gettext(message: str) -> str:
    """Say a sentence in the reader's language.

    >>> gettext("Next wagon")
    'Next wagon'
    """
    return _translator.gettext(message)


def ngettext(singular: str, plural: str, number: int) -> str:
    """Say a sentence in the reader's language, in the form its number asks for.

    >>> ngettext("{n} wagon", "{n} wagons", 3).format(n=3)
    '3 wagons'
    """
    return _translator.ngettext(singular, plural, number)


def pgettext(context: str, message: str) -> str:
    """Say a word in the sense named: a word may need two words in another language.

    >>> pgettext("a judge's filled scorecard", "card")
    'card'
    """
    return _translator.pgettext(context, message)


def gettext_noop(message: str) -> str:
    """Mark a word for translation where it is kept; it is said by `gettext` where it is shown."""
    return message


def in_english() -> AbstractContextManager[None]:
    """Speak English for a while: for words that are kept and must not depend on who is here.

    >>> with in_english():
    ...     gettext("Next wagon")
    'Next wagon'
    """
    return _translator.override("en")


def in_language(language: str) -> AbstractContextManager[None]:
    """Speak a person's language for a while; with none named, go on as before.

    >>> with in_language(""):
    ...     gettext("Next wagon")
    'Next wagon'
    """
    return _translator.override(language) if language else nullcontext()


# -- days and hours ----------------------------------------------------------------------------

_WEEKDAYS = (
    gettext_noop("Monday"),
    gettext_noop("Tuesday"),
    gettext_noop("Wednesday"),
    gettext_noop("Thursday"),
    gettext_noop("Friday"),
    gettext_noop("Saturday"),
    gettext_noop("Sunday"),
)
_MONTHS = (
    gettext_noop("January"),
    gettext_noop("February"),
    gettext_noop("March"),
    gettext_noop("April"),
    gettext_noop("May"),
    gettext_noop("June"),
    gettext_noop("July"),
    gettext_noop("August"),
    gettext_noop("September"),
    gettext_noop("October"),
    gettext_noop("November"),
    gettext_noop("December"),
)


def weekday(day: date) -> str:
    """Name a day of the week.

    >>> weekday(date(2027, 5, 14))
    'Friday'
    """
    return gettext(_WEEKDAYS[day.weekday()])


def month(day: date) -> str:
    """Name the month of a day.

    >>> month(date(2027, 5, 14))
    'May'
    """
    return gettext(_MONTHS[day.month - 1])


def clock(at: datetime) -> str:
    """Say the hour by the clock `at` is set to.

    >>> clock(datetime(2027, 5, 14, 17, 5))
    '5:05 PM'
    """
    words = gettext("{hour}:{minute} AM") if at.hour < 12 else gettext("{hour}:{minute} PM")
    return words.format(hour=at.hour % 12 or 12, minute=f"{at.minute:02}")


def listed(words: Sequence[str]) -> str:
    """Join words as the language does: with commas, and the last by its word for "and".

    >>> listed(["Harness", "Wagon box", "Camp kit"])
    'Harness, Wagon box and Camp kit'
    >>> listed(["Harness"]), listed([])
    ('Harness', '')
    """
    if len(words) < 2:
        return "".join(words)
    return gettext("{words} and {last}").format(words=", ".join(words[:-1]), last=words[-1])
