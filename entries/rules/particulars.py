"""What an entry says beside wagon, rig and crew: its camp, its food, whom to call."""

from __future__ import annotations

import re
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from entries.rules.eligibility import fault_of_text
from entries.rules.places import Status
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_

FEET_MIN = 10
FEET_MAX = 300
DIETARY_MAX = 1000
EMERGENCY_NAME_MAX = 120
EMERGENCY_PHONE_MAX = 40
FEWEST_DIGITS = 5
AGREED_BY_MAX = 120

_FOOT_M = Decimal("0.3048")
_FEET = re.compile(r"([0-9]{1,5})\s*(?:ft|feet|foot|'|’|′)?\.?", re.IGNORECASE)


def metres(feet: int) -> str:
    """Write a length in feet as metres with one decimal.

    Parameters
    ----------
    feet : int [ft]

    Returns
    -------
    str [m]

    Source
    ------
    A foot is 0.3048 m by definition (from memory).

    Examples
    --------
    >>> metres(50), metres(40)
    ('15.2', '12.2')
    """
    return str((feet * _FOOT_M).quantize(Decimal("0.1"), ROUND_HALF_UP))


def read_feet(typed: str) -> int | None:
    """Read whole feet as they are typed; None where nothing is.

    Parameters
    ----------
    typed : str
        Such as ``50``, ``50 ft`` or ``50'``.

    Returns
    -------
    int or None [ft]

    Raises
    ------
    ValueError
        With a sentence, where it is no whole number of feet.

    Source
    ------
    Common practice, no source: camps are laid out in whole feet.

    Examples
    --------
    >>> read_feet("50 ft"), read_feet("40'"), read_feet("  ")
    (50, 40, None)
    >>> read_feet("15 m")
    Traceback (most recent call last):
        ...
    ValueError: A whole number of feet, please, such as 50.
    """
    text = typed.strip()
    if not text:
        return None
    found = _FEET.fullmatch(text)
    if found is None:
        raise ValueError(_("A whole number of feet, please, such as 50."))
    return int(found[1])


def faults_of_particulars(
    *,
    frontage_ft: int | None = None,
    depth_ft: int | None = None,
    dietary_notes: str = "",
    emergency_name: str = "",
    emergency_phone: str = "",
) -> dict[str, str]:
    """List what is wrong, one message per field; all of it may be left out.

    Parameters
    ----------
    frontage_ft, depth_ft : int or None [ft]
        Each from `FEET_MIN` to `FEET_MAX`.
    dietary_notes, emergency_name, emergency_phone : str
        At most `DIETARY_MAX`, `EMERGENCY_NAME_MAX` and `EMERGENCY_PHONE_MAX` [letters]; a name
        comes with a number and a number with a name.

    Source
    ------
    Common practice, no source: camps are 40 to 60 feet wide and deep; the bounds only catch slips.

    Examples
    --------
    >>> faults_of_particulars(frontage_ft=50, depth_ft=4)
    {'depth_ft': 'The depth is from 10 to 300 feet.'}
    >>> faults_of_particulars(emergency_name="Ada Moor")
    {'emergency_phone': 'A number at which Ada Moor can be called, please.'}
    """
    name, phone = emergency_name.strip(), emergency_phone.strip()
    found = {
        "frontage_ft": _fault_of_feet(
            N_("The frontage is from {least} to {most} feet."), frontage_ft
        ),
        "depth_ft": _fault_of_feet(N_("The depth is from {least} to {most} feet."), depth_ft),
        "dietary_notes": fault_of_text(
            _("The note on food"), dietary_notes, DIETARY_MAX, lines=True
        ),
        "emergency_name": fault_of_text(_("The name"), name, EMERGENCY_NAME_MAX)
        or (_("Whose number is this?") if phone and not name else ""),
        "emergency_phone": _fault_of_phone(name, phone),
    }
    return {field: sentence for field, sentence in found.items() if sentence}


def fault_of_agreement(*, agreed_by: str, version_read: int | None, version: int) -> str:
    """Say why a name typed under the waiver is no agreement, or nothing when it is one.

    Parameters
    ----------
    agreed_by : str
        The name as typed.
    version_read : int or None
        The version of the text that stood above it.
    version : int
        The version the show has now.

    Source
    ------
    Common practice, no source: somebody agrees to the words they read and to no others.

    Examples
    --------
    >>> fault_of_agreement(agreed_by="Ada Moor", version_read=2, version=2)
    ''
    >>> fault_of_agreement(agreed_by="Ada Moor", version_read=1, version=2)
    'The waiver has changed since it was shown here. Read it again, then type your name.'
    """
    if version_read != version:
        return _(
            "The waiver has changed since it was shown here. Read it again, then type your name."
        )
    return fault_of_text(_("The name"), agreed_by, AGREED_BY_MAX)


def reason_against_changing(*, status: Status, ends_on: date, today: date) -> str | None:
    """Say why an entry's details are not changed any more, or None while they may be.

    Parameters
    ----------
    status : Status
        Where the entry stands.
    ends_on, today : date
        The show's last day; the day it is where the show is.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> reason_against_changing(status=Status.SCRATCHED, ends_on=date(2027, 5, 16),
    ...     today=date(2027, 5, 1))
    'This entry was scratched; nothing of it is changed any more.'
    """
    if status is Status.SCRATCHED:
        return _("This entry was scratched; nothing of it is changed any more.")
    if today > ends_on:
        return _("This show is over; nothing of its entries is changed any more.")
    return None


def _fault_of_feet(fault: str, feet: int | None) -> str:
    if feet is None or FEET_MIN <= feet <= FEET_MAX:
        return ""
    return _(fault).format(least=FEET_MIN, most=FEET_MAX)


def _fault_of_phone(name: str, phone: str) -> str:
    if name and not phone:
        return _("A number at which {name} can be called, please.").format(name=name)
    if phone and sum(sign.isdigit() for sign in phone) < FEWEST_DIGITS:
        return _("This is no telephone number.")
    return fault_of_text(_("The number"), phone, EMERGENCY_PHONE_MAX)
