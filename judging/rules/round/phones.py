"""When a judge's phone calls for the office: silent, or low, with touches only it holds."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from showrun.language import gettext as _
from showrun.language import ngettext

LOW_PERCENT = 20
# Phones send as they can; after this long without a word the office may want to look.
QUIET_AFTER = timedelta(minutes=20)


@dataclass(frozen=True)
class Told:
    """What is known of a phone in use.

    Parameters
    ----------
    silent_for
        Time since it was last heard of; None: it never was.
    battery_percent
        As it last told [%]; None: it does not tell.
    unsent
        Touches it had not sent then.
    at_work
        Judging has begun and its judge has cards still to hand in.
    """

    silent_for: timedelta | None
    battery_percent: int | None
    unsent: int
    at_work: bool = True

    @property
    def low(self) -> bool:
        """Whether the battery is nearly empty."""
        return self.battery_percent is not None and self.battery_percent < LOW_PERCENT

    @property
    def silent(self) -> bool:
        """Whether nothing was heard for longer than the office should leave it."""
        return self.silent_for is not None and self.silent_for > QUIET_AFTER


def call_for_office(told: Told) -> str:
    """Say what the office should do about a phone, empty when nothing.

    Parameters
    ----------
    told
        What is known of it.

    Returns
    -------
    str
        What is the matter and what to do, in a sentence.

    Notes
    -----
    A phone without a signal is no fault; it calls only when marks could be lost with it, or
    when it has been silent while its judge has cards to hand in.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> minutes = lambda n: timedelta(minutes=n)
    >>> call_for_office(Told(minutes(2), 12, 3))
    'Battery at 12 %, and 3 touches are only on this phone: take a charger to the judge.'
    >>> call_for_office(Told(minutes(43), None, 12))
    'Silent for 43 minutes, and 12 touches are only on this phone: look for the judge.'
    >>> call_for_office(Told(minutes(43), 80, 0))
    'Silent for 43 minutes with cards still out: look for the judge.'
    >>> call_for_office(Told(minutes(43), 80, 0, at_work=False)), call_for_office(
    ...     Told(minutes(2), 12, 0)
    ... )
    ('', '')
    """
    if told.silent_for is not None and told.silent:
        return _silent(told, long_words(told.silent_for))
    if told.low and told.unsent:
        return ngettext(
            "Battery at {percent} %, and {n} touch is only on this phone: take a charger to the "
            "judge.",
            "Battery at {percent} %, and {n} touches are only on this phone: take a charger to the "
            "judge.",
            told.unsent,
        ).format(percent=told.battery_percent, n=told.unsent)
    return ""


def _silent(told: Told, span: str) -> str:
    if not told.unsent:
        if not told.at_work:
            return ""
        return _("Silent for {span} with cards still out: look for the judge.").format(span=span)
    if told.low:
        said = ngettext(
            "Silent for {span} with the battery at {percent} %, and {n} touch is only on this "
            "phone: look for the judge.",
            "Silent for {span} with the battery at {percent} %, and {n} touches are only on this "
            "phone: look for the judge.",
            told.unsent,
        )
    else:
        said = ngettext(
            "Silent for {span}, and {n} touch is only on this phone: look for the judge.",
            "Silent for {span}, and {n} touches are only on this phone: look for the judge.",
            told.unsent,
        )
    return said.format(span=span, percent=told.battery_percent, n=told.unsent)


def long_words(span: timedelta) -> str:
    """Say how long something is, in the coarsest words that help.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> [long_words(timedelta(minutes=n)) for n in (1, 119, 120, 47 * 60, 48 * 60)]
    ['1 minute', '119 minutes', '2 hours', '47 hours', '2 days']
    """
    minutes = int(span / timedelta(minutes=1))
    if minutes < 120:
        return ngettext("{n} minute", "{n} minutes", minutes).format(n=minutes)
    if minutes < 48 * 60:
        return _("{n} hours").format(n=minutes // 60)
    return _("{n} days").format(n=minutes // (24 * 60))
