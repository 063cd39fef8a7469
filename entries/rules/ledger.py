"""The show's double entry: which accounts each kind of posting touches, and what is owed.

A debit is above zero and a credit below it, so the lines of a posting add up to nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


class Account(StrEnum):
    """Where money stands; a balance above zero is held or owed to the show."""

    EXHIBITORS = "exhibitors"
    CASH = "cash"
    CHEQUES = "cheques"
    BANK = "bank"
    ONLINE = "online"
    DEPOSITS = "deposits"
    FEES = "fees"
    TRAVEL = "travel"
    PURSE = "purse"
    OTHER = "other"


class Method(StrEnum):
    """How money changes hands."""

    CASH = "cash"
    CHEQUE = "cheque"
    TRANSFER = "transfer"
    ONLINE = "online"


MONEY_IN = {
    Method.CASH: Account.CASH,
    Method.CHEQUE: Account.CHEQUES,
    Method.TRANSFER: Account.BANK,
    Method.ONLINE: Account.ONLINE,
}
# A cheque the show writes leaves its bank, not the cheques it holds; a provider's money is no
# one's to pay out before it has arrived.
MONEY_OUT = {
    Method.CASH: Account.CASH,
    Method.CHEQUE: Account.BANK,
    Method.TRANSFER: Account.BANK,
}
CHARGED = (Account.FEES, Account.DEPOSITS, Account.OTHER)
TO_BANK = (Account.CASH, Account.CHEQUES, Account.ONLINE)
PAID_OUT_FOR = (Account.TRAVEL, Account.PURSE)


@dataclass(frozen=True)
class Line:
    """One side of a posting.

    Parameters
    ----------
    account : Account
    cents : int [cents]
        Debit above 0, credit below.

    Source
    ------
    Common practice, no source.

    Raises
    ------
    ValueError
        For nothing: a line without an amount says nothing.
    """

    account: Account
    cents: int

    def __post_init__(self) -> None:
        if self.cents == 0:
            raise ValueError("A line has an amount.")


def _moved(cents: int, *, debit: Account, credit: Account) -> tuple[Line, ...]:
    if cents <= 0:
        raise ValueError("A posting is of more than nothing.")
    return (Line(debit, cents), Line(credit, -cents))


def demand_balance(lines: Iterable[Line]) -> None:
    """Refuse lines that do not add up to nothing.

    Parameters
    ----------
    lines : iterable of Line

    Raises
    ------
    ValueError
        Where debits and credits differ, or there are fewer than two lines.

    Source
    ------
    OpenStax, Principles of Accounting, volume 1, chapter 3 (from memory):
    debits equal credits in every transaction.

    Examples
    --------
    >>> demand_balance([Line(Account.CASH, 500), Line(Account.FEES, -400)])
    Traceback (most recent call last):
        ...
    ValueError: Debits and credits differ by 100 cents.
    """
    there = list(lines)
    if len(there) < 2:
        raise ValueError("A posting has two lines at least.")
    total = sum(line.cents for line in there)
    if total:
        raise ValueError(f"Debits and credits differ by {abs(total)} cents.")


def charge(account: Account, cents: int) -> tuple[Line, ...]:
    """Charge an exhibitor: what is owed goes up.

    Parameters
    ----------
    account : Account
        `FEES`, `DEPOSITS` (held, and owed back) or `OTHER`.
    cents : int [cents]
        Above 0.

    Raises
    ------
    ValueError
        For another account, or for nothing.

    Source
    ------
    OpenStax, Principles of Accounting, volume 1, chapter 3 (from memory):
    a claim is debited, income or what is owed back is credited.

    Examples
    --------
    >>> [(line.account.value, line.cents) for line in charge(Account.FEES, 15000)]
    [('exhibitors', 15000), ('fees', -15000)]
    """
    if account not in CHARGED:
        raise ValueError(f"{account.value} is nothing an exhibitor is charged.")
    return _moved(cents, debit=Account.EXHIBITORS, credit=account)


def payment(method: Method, cents: int) -> tuple[Line, ...]:
    """Take money from an exhibitor: what is owed goes down, below nothing where it is too much.

    Parameters
    ----------
    method : Method
    cents : int [cents]
        Above 0.

    Raises
    ------
    ValueError
        For nothing.

    Source
    ------
    OpenStax, Principles of Accounting, volume 1, chapter 3 (from memory):
    cash is debited, the claim is credited.

    Examples
    --------
    >>> [(line.account.value, line.cents) for line in payment(Method.CHEQUE, 9900)]
    [('cheques', 9900), ('exhibitors', -9900)]
    """
    return _moved(cents, debit=MONEY_IN[method], credit=Account.EXHIBITORS)


def credit(account: Account, cents: int) -> tuple[Line, ...]:
    """Take a charge back, whole or in part: it is credited to the exhibitor, not yet paid out.

    Parameters
    ----------
    account : Account
        What was charged.
    cents : int [cents]
        Above 0.

    Raises
    ------
    ValueError
        For another account, or for nothing.

    Source
    ------
    OpenStax, Principles of Accounting, volume 1, chapter 3 (from memory):
    the charge's own accounts, the other way round.

    Examples
    --------
    >>> [(line.account.value, line.cents) for line in credit(Account.DEPOSITS, 5000)]
    [('deposits', 5000), ('exhibitors', -5000)]
    """
    if account not in CHARGED:
        raise ValueError(f"{account.value} is nothing an exhibitor was charged.")
    return _moved(cents, debit=account, credit=Account.EXHIBITORS)


def pay_back(method: Method, cents: int) -> tuple[Line, ...]:
    """Pay out what stands in an exhibitor's favor.

    Parameters
    ----------
    method : Method
        Not `ONLINE`.
    cents : int [cents]
        Above 0.

    Raises
    ------
    ValueError
        For nothing, or for a way money is not paid out.

    Source
    ------
    OpenStax, Principles of Accounting, volume 1, chapter 3 (from memory):
    what is owed is debited, cash is credited.

    Examples
    --------
    >>> [(line.account.value, line.cents) for line in pay_back(Method.CASH, 5000)]
    [('exhibitors', 5000), ('cash', -5000)]
    """
    return _moved(cents, debit=Account.EXHIBITORS, credit=_out(method))


def _out(method: Method) -> Account:
    if method not in MONEY_OUT:
        raise ValueError(f"Nothing is paid out {method.value}.")
    return MONEY_OUT[method]


def pay_for(account: Account, cents: int, method: Method | None) -> tuple[Line, ...]:
    """Pay travel money or a purse: handed out, or set against what the exhibitor owes.

    Parameters
    ----------
    account : Account
        `TRAVEL` or `PURSE`.
    cents : int [cents]
        Above 0.
    method : Method, optional
        None puts it to the exhibitor's account instead of handing it out.

    Raises
    ------
    ValueError
        For another account, for nothing, or for a way money is not paid out.

    Source
    ------
    OpenStax, Principles of Accounting, volume 1, chapter 3 (from memory):
    a cost is debited, cash or what is owed is credited.

    Examples
    --------
    >>> [(line.account.value, line.cents) for line in pay_for(Account.TRAVEL, 7500, None)]
    [('travel', 7500), ('exhibitors', -7500)]
    """
    if account not in PAID_OUT_FOR:
        raise ValueError(f"{account.value} is not paid out to exhibitors.")
    source = Account.EXHIBITORS if method is None else _out(method)
    return _moved(cents, debit=account, credit=source)


def keep_deposit(cents: int) -> tuple[Line, ...]:
    """Keep a deposit: it is no longer owed back, and what the exhibitor owes stays as it was.

    Parameters
    ----------
    cents : int [cents]
        Above 0.

    Raises
    ------
    ValueError
        For nothing.

    Source
    ------
    OpenStax, Principles of Accounting, volume 1, chapter 3 (from memory):
    the debt is debited, income is credited.

    Examples
    --------
    >>> [(line.account.value, line.cents) for line in keep_deposit(5000)]
    [('deposits', 5000), ('other', -5000)]
    """
    return _moved(cents, debit=Account.DEPOSITS, credit=Account.OTHER)


def take_to_bank(account: Account, cents: int) -> tuple[Line, ...]:
    """Pay the cash box, the cheques or a provider's money in at the bank.

    Parameters
    ----------
    account : Account
        `CASH`, `CHEQUES` or `ONLINE`.
    cents : int [cents]
        Above 0.

    Raises
    ------
    ValueError
        For another account, or for nothing.

    Source
    ------
    OpenStax, Principles of Accounting, volume 1, chapter 3 (from memory):
    one asset is debited, another credited.

    Examples
    --------
    >>> [(line.account.value, line.cents) for line in take_to_bank(Account.CHEQUES, 9900)]
    [('bank', 9900), ('cheques', -9900)]
    """
    if account not in TO_BANK:
        raise ValueError(f"{account.value} is not taken to the bank.")
    return _moved(cents, debit=Account.BANK, credit=account)


def reverse(lines: Iterable[Line]) -> tuple[Line, ...]:
    """Undo a posting whole: every line the other way round.

    Parameters
    ----------
    lines : iterable of Line
        All of the posting.

    Returns
    -------
    tuple of Line

    Raises
    ------
    ValueError
        Where the lines do not add up to nothing.

    Source
    ------
    Common practice, no source: a book is corrected by a counter-entry, never by rubbing out.

    Examples
    --------
    >>> [(line.account.value, line.cents) for line in reverse(payment(Method.CASH, 100))]
    [('cash', -100), ('exhibitors', 100)]
    """
    there = tuple(lines)
    demand_balance(there)
    return tuple(Line(line.account, -line.cents) for line in there)


def balances(lines: Iterable[Line]) -> dict[Account, int]:
    """Add the lines up by account.

    Parameters
    ----------
    lines : iterable of Line

    Returns
    -------
    dict of Account to int [cents]
        Every account in the order of the books; above 0 a debit, below 0 a credit.

    Source
    ------
    OpenStax, Principles of Accounting, volume 1, chapter 3 (from memory):
    a trial balance, whose figures add up to nothing.

    Examples
    --------
    >>> left = balances([*charge(Account.FEES, 15000), *payment(Method.CASH, 20000)])
    >>> left[Account.EXHIBITORS], left[Account.CASH], sum(left.values())
    (-5000, 20000, 0)
    """
    found = dict.fromkeys(Account, 0)
    for line in lines:
        found[line.account] += line.cents
    return found
