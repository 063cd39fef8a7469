"""Double entry: any sequence of postings balances, and a book is corrected by counter-entries."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from entries.models import Posting, PostingLine
from entries.rules.ledger import (
    CHARGED,
    MONEY_IN,
    MONEY_OUT,
    PAID_OUT_FOR,
    TO_BANK,
    Account,
    Line,
    Method,
    balances,
    charge,
    credit,
    demand_balance,
    keep_deposit,
    pay_back,
    pay_for,
    payment,
    reverse,
    take_to_bank,
)

EASY = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
cents = st.integers(1, 10**9)
postings = st.one_of(
    st.builds(charge, st.sampled_from(CHARGED), cents),
    st.builds(credit, st.sampled_from(CHARGED), cents),
    st.builds(payment, st.sampled_from(list(MONEY_IN)), cents),
    st.builds(pay_back, st.sampled_from(list(MONEY_OUT)), cents),
    st.builds(pay_for, st.sampled_from(PAID_OUT_FOR), cents, st.sampled_from([None, *MONEY_OUT])),
    st.builds(keep_deposit, cents),
    st.builds(take_to_bank, st.sampled_from(TO_BANK), cents),
)


@EASY
@given(st.lists(postings, max_size=25))
def test_any_sequence_of_postings_adds_up_to_nothing(made: list[tuple[Line, ...]]):
    for lines in made:
        demand_balance(lines)
    every = [line for lines in made for line in lines]
    left = balances(every)
    assert list(left) == list(Account)
    assert sum(left.values()) == 0
    for account in Account:
        assert left[account] == sum(line.cents for line in every if line.account is account)


@EASY
@given(st.lists(postings, min_size=1, max_size=20), st.data())
def test_undoing_a_posting_leaves_the_book_as_if_it_had_not_been(
    made: list[tuple[Line, ...]], data: st.DataObject
):
    undone = data.draw(st.integers(0, len(made) - 1))
    rest = [line for n, lines in enumerate(made) for line in lines if n != undone]
    every = [line for lines in made for line in lines]
    back = reverse(made[undone])
    assert balances([*every, *back]) == balances(rest)
    assert [line.account for line in back] == [line.account for line in made[undone]]
    assert reverse(back) == made[undone]


def sides(lines: tuple[Line, ...]) -> dict[str, int]:
    return {line.account.value: line.cents for line in lines}


def test_what_each_kind_of_posting_moves():
    assert sides(charge(Account.DEPOSITS, 5000)) == {"exhibitors": 5000, "deposits": -5000}
    assert sides(payment(Method.CASH, 1)) == {"cash": 1, "exhibitors": -1}
    assert sides(payment(Method.TRANSFER, 1)) == {"bank": 1, "exhibitors": -1}
    assert sides(payment(Method.ONLINE, 1)) == {"online": 1, "exhibitors": -1}
    # A cheque taken lies in the box; a cheque written leaves the bank.
    assert sides(payment(Method.CHEQUE, 1)) == {"cheques": 1, "exhibitors": -1}
    assert sides(pay_back(Method.CHEQUE, 1)) == {"exhibitors": 1, "bank": -1}
    assert sides(credit(Account.FEES, 7500)) == {"fees": 7500, "exhibitors": -7500}
    assert sides(pay_for(Account.PURSE, 9, None)) == {"purse": 9, "exhibitors": -9}
    assert sides(pay_for(Account.TRAVEL, 9, Method.CASH)) == {"travel": 9, "cash": -9}
    assert sides(keep_deposit(9)) == {"deposits": 9, "other": -9}
    assert sides(take_to_bank(Account.ONLINE, 9)) == {"bank": 9, "online": -9}


@pytest.mark.parametrize("account", [a for a in Account if a not in CHARGED])
def test_only_fee_deposit_and_other_are_charged(account: Account):
    for deed in (charge, credit):
        with pytest.raises(ValueError, match=account.value):
            deed(account, 100)


@pytest.mark.parametrize(
    ("deed", "told"),
    [
        (lambda: payment(Method.CASH, 0), "A posting is of more than nothing."),
        (lambda: payment(Method.CASH, -5), "A posting is of more than nothing."),
        (lambda: pay_back(Method.ONLINE, 5), "Nothing is paid out online."),
        (lambda: pay_for(Account.TRAVEL, 5, Method.ONLINE), "Nothing is paid out online."),
        (lambda: pay_for(Account.FEES, 5, None), "fees is not paid out to exhibitors."),
        (lambda: take_to_bank(Account.BANK, 5), "bank is not taken to the bank."),
        (lambda: Line(Account.CASH, 0), "A line has an amount."),
        (lambda: demand_balance([]), "A posting has two lines at least."),
        (lambda: demand_balance([Line(Account.CASH, 1)]), "A posting has two lines at least."),
        (
            lambda: demand_balance([Line(Account.CASH, 1), Line(Account.FEES, -2)]),
            "Debits and credits differ by 1 cents.",
        ),
        (
            lambda: reverse([Line(Account.CASH, 1), Line(Account.FEES, -2)]),
            "Debits and credits differ by 1 cents.",
        ),
    ],
)
def test_what_is_no_posting_is_refused_with_its_reason(deed: Callable[[], object], told: str):
    with pytest.raises(ValueError, match=f"^{re.escape(told)}$"):
        deed()


def test_a_printing_shops_month_comes_out_as_in_the_textbook():
    """OpenStax, Principles of Accounting, volume 1, 3.5 and 3.6: the customers of Printing Plus.

    Its customers' side in the accounts of a show: services billed are fees, an advance is held
    as a deposit, bills paid at once are other money. Figures in dollars, from memory.
    """
    month = [
        # 9 January: $4,000 received in advance; 10: services of $5,500 billed.
        *charge(Account.DEPOSITS, 4000_00),
        *payment(Method.TRANSFER, 4000_00),
        *charge(Account.FEES, 5500_00),
        # 17: services of $2,800 paid at once; 23: the bill of the 10th paid in full.
        *charge(Account.FEES, 2800_00),
        *payment(Method.TRANSFER, 2800_00),
        *payment(Method.TRANSFER, 5500_00),
        # 27: services of $1,200 billed.
        *charge(Account.FEES, 1200_00),
    ]
    left = balances(month)
    assert left[Account.EXHIBITORS] == 1200_00  # accounts receivable
    assert left[Account.DEPOSITS] == -4000_00  # unearned revenue
    assert left[Account.FEES] == -9500_00  # service revenue
    # Cash of 24,800 is what customers paid, the 20,000 put in, less 7,500 paid for the shop.
    assert left[Account.BANK] == 24_800_00 - 20_000_00 + (300 + 100 + 3500 + 3600) * 100


def test_the_rows_know_the_same_accounts_and_ways_as_the_rule():
    assert PostingLine.Account.values == [account.value for account in Account]
    assert Posting.Method.values == ["", *(method.value for method in Method)]
