"""Reading one mapping of a card file key by key, noting every fault at its place."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from difflib import get_close_matches

from judging.rules.cards.condition import quoted
from showrun.language import gettext as _

MOST_FAULTS = 200
LONGEST_CODE = 50
_CODE = re.compile(r"[a-z0-9_-]+")
_LONGEST_KEY = 40
# Anything larger is as wrong as this, and need not be reckoned with digit by digit.
TOO_MUCH = Decimal(10) ** 9


@dataclass
class Faults:
    """Sentences by place, the first one at each place; after 200 it only says there are more."""

    found: dict[str, str] = field(default_factory=dict)
    _touched: set[str] = field(default_factory=set)

    def add(self, place: str, sentence: str) -> None:
        """Note a fault at a place such as ``sections.2.criteria.0.step``."""
        parts = place.split(".")
        self._touched.update(".".join(parts[:depth]) for depth in range(1, len(parts) + 1))
        if place in self.found:
            return
        if len(self.found) < MOST_FAULTS:
            self.found[place] = sentence
        else:
            self.found[""] = _("There are more faults; mend these first.")

    def clean(self, place: str) -> bool:
        """Say whether nothing was found at a place or below it."""
        return place not in self._touched


def inside(place: str, key: object) -> str:
    """Return the place of a key inside a place."""
    name = str(key) if isinstance(key, int) else quoted(key).strip("“”")[:_LONGEST_KEY]
    return f"{place}.{name}" if place else name


def fault_of_text(text: str, longest: int) -> str:
    """Say in a sentence what is wrong with a text, or nothing."""
    if len(text) > longest:
        return _("At most {longest} characters; these are {n}.").format(
            longest=longest, n=len(text)
        )
    if any(unicodedata.category(char) in ("Cc", "Cs") and char not in "\n\t" for char in text):
        return _("This text has a character that cannot be shown.")
    return ""


class Fields:
    """One mapping; every reader returns a harmless value after it has noted a fault."""

    def __init__(self, data: Mapping[object, object], place: str, faults: Faults) -> None:
        self.data, self.place, self.faults = data, place, faults

    def at(self, key: str) -> str:
        """Return the place of a key."""
        return inside(self.place, key)

    def fault(self, key: str, sentence: str) -> None:
        """Note a fault at a key."""
        self.faults.add(self.at(key), sentence)

    def refuse_unknown(self, known: Collection[str]) -> None:
        """Note every key that nobody reads."""
        for key in self.data:
            if key not in known:
                near = get_close_matches(str(key)[:_LONGEST_KEY], known, n=1)
                hint = (
                    _("Is “{key}” meant?").format(key=near[0])
                    if near
                    else _("Known are {keys}.").format(keys=", ".join(known))
                )
                said = _("This key is not known here.")
                self.faults.add(inside(self.place, key), f"{said} {hint}")

    def text(self, key: str, longest: int, *, needed: bool = False, lines: bool = False) -> str:
        """Read a text of one line, or of several."""
        given = self.data.get(key)
        if given is None:
            if needed:
                self.fault(key, _("This is missing."))
            return ""
        if not isinstance(given, str):
            self.fault(key, _("A text, please; put it in quotes if it looks like a number."))
            return ""
        text = given.replace("\r\n", "\n").strip() if lines else " ".join(given.split())
        if needed and not text:
            self.fault(key, _("This is empty."))
        elif fault := fault_of_text(text, longest):
            self.fault(key, fault)
        return text

    def code(self, key: str, *, needed: bool = False) -> str:
        """Read a code of lowercase letters, digits, _ and -; "" where there is none."""
        given = self.data.get(key)
        if given is None or given == "":
            if needed:
                self.fault(key, _("This is missing."))
            return ""
        if fault := fault_of_code(given):
            self.fault(key, fault)
            return ""
        return str(given)

    def number(
        self, key: str, most: str, *, zero: bool = False, otherwise: Decimal | None = None
    ) -> Decimal | None:
        """Read a number above zero (or from zero) with at most two decimals; None at fault."""
        given = self.data.get(key)
        if given is None:
            if otherwise is None:
                self.fault(key, _("This is missing."))
            return otherwise
        value = _exact(given)
        if value is None:
            self.fault(key, _("A number, please, without quotes."))
        elif value < 0 or (value == 0 and not zero):
            self.fault(key, _("Zero or more, please.") if zero else _("More than zero, please."))
        elif value > Decimal(most):
            self.fault(key, _("At most {most}.").format(most=most))
        elif value * 100 % 1:
            self.fault(key, _("At most two decimals."))
        else:
            return value
        return None

    def whole(self, key: str, most: int, *, otherwise: int | None = None) -> int:
        """Read a whole number from 1 on; 1 at fault."""
        given = self.data.get(key, otherwise)
        if given is None:
            self.fault(key, _("This is missing."))
            return 1
        value = _exact(given)
        if value is None or value % 1:
            self.fault(key, _("A whole number, please, without quotes."))
        elif not 1 <= value <= most:
            self.fault(key, _("From 1 to {most}, please.").format(most=most))
        else:
            return int(value)
        return 1

    def flag(self, key: str) -> bool:
        """Read true or false; false where it is not said."""
        given = self.data.get(key, False)
        if not isinstance(given, bool):
            self.fault(key, _("true or false, please."))
        return given is True

    def choice(self, key: str, known: Collection[str], otherwise: str) -> str:
        """Read one of a few words."""
        given = self.data.get(key, otherwise)
        if isinstance(given, str) and given in known:
            return given
        self.fault(
            key,
            _("One of {known}, please.").format(known=", ".join(word for word in known if word)),
        )
        return otherwise

    def items(self, key: str, most: int, *, needed: bool = False) -> list[object]:
        """Read a list, empty where there is none."""
        given = self.data.get(key)
        if given is None and not needed:
            return []
        if not isinstance(given, list | tuple):
            self.fault(key, _("This is missing.") if given is None else _("A list, please."))
            return []
        if needed and not given:
            self.fault(key, _("At least one, please."))
        if len(given) > most:
            self.fault(key, _("At most {most:,}; these are {n:,}.").format(most=most, n=len(given)))
            return []
        return list(given)

    def texts(self, key: str, most: int, longest: int) -> tuple[str, ...]:
        """Read a list of short texts."""
        found = []
        for place, given in enumerate(self.items(key, most)):
            if not isinstance(given, str) or not given.strip():
                self.faults.add(inside(self.at(key), place), _("A text, please."))
                continue
            text = " ".join(given.split())
            if fault := fault_of_text(text, longest):
                self.faults.add(inside(self.at(key), place), fault)
            found.append(text)
        return tuple(found)

    def codes(self, key: str, most: int) -> tuple[str, ...]:
        """Read a list of codes, each of them once."""
        found: list[str] = []
        for place, given in enumerate(self.items(key, most)):
            fault = fault_of_code(given)
            if not fault and given in found:
                fault = _("This code is there twice.")
            if fault:
                self.faults.add(inside(self.at(key), place), fault)
            else:
                found.append(str(given))
        return tuple(found)


def fault_of_code(given: object) -> str:
    """Say in a sentence what is wrong with a code, or nothing.

    Examples
    --------
    >>> fault_of_code("rg_hubs"), fault_of_code("Hubs!")
    ('', 'A code has lowercase letters, digits, _ and - only.')
    """
    if not isinstance(given, str):
        return _("A code is a text; put it in quotes if it looks like a number.")
    if not _CODE.fullmatch(given):
        return _("A code has lowercase letters, digits, _ and - only.")
    if len(given) > LONGEST_CODE:
        return _("A code has at most {longest} characters.").format(longest=LONGEST_CODE)
    return ""


def _exact(given: object) -> Decimal | None:
    """A number as an exact decimal without needless zeros; None when it is none."""
    if isinstance(given, bool) or not isinstance(given, int | float | Decimal):
        return None
    value = Decimal(given) if isinstance(given, int) else Decimal(str(given))
    if not value.is_finite():
        return None
    if abs(value) >= TOO_MUCH:
        return TOO_MUCH.copy_sign(value)
    whole = value.to_integral_value()
    return whole.quantize(Decimal(1)) if value == whole else value.normalize()
