"""Money of the invented show: paid, posted for the wrong wagon and undone, given back."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any
from uuid import uuid4

from entries.actions.refund_entry import pay_out, refund_entry, return_deposit
from entries.actions.reverse_posting import reverse_posting
from entries.actions.take_payment import take_payment
from entries.actions.withdraw_entry import withdraw_entry
from entries.models import Entry, Posting
from entries.queries.ledger import balance_of, refund_by_dates
from entries.rules.ledger import Method
from showrun.project.demo.scenario import Scenario
from showrun.shows.models import Person, Show


def load_money(scenario: Scenario, show: Show, *, by: Person, at: datetime) -> None:
    """Post what the story says of the wagons that are confirmed."""
    money = scenario.story["money"]
    wagons = {entry.number: entry for entry in Entry.objects.confirmed().filter(show=show)}
    for line in money["payments"]:
        _take(wagons[line["entry"]], line, by, at)
    wrong = money["wrong"]
    posting = _take(wagons[wrong["entry"]], wrong, by, at)
    reverse_posting(posting=posting, key=uuid4(), reason=money["reason"], by=by, at=at)
    _take(wagons[wrong["meant"]], wrong, by, at)


def leave_early(entry: Entry, line: dict[str, Any], *, by: Person, at: datetime) -> None:
    """Let a wagon that has paid leave again, and give back what the show's dates say."""
    owed = balance_of(entry)
    if owed > 0:
        _take(entry, {"dollars": owed // 100, "method": "cheque", **line}, by, at)
    withdraw_entry(entry=entry, by=entry.exhibitor, at=at, reason=line["reason"])
    entry.refresh_from_db()
    done: dict[str, Any] = {"entry": entry, "by": by, "at": at}
    if refund_by_dates(entry, at.astimezone(entry.show.tz).date()).cents:
        refund_entry(key=uuid4(), **done)
    return_deposit(key=uuid4(), **done)
    pay_out(cents=-balance_of(entry), method=Method.CHEQUE, key=uuid4(), reference="1001", **done)


def _take(entry: Entry, line: dict[str, Any], by: Person, at: datetime) -> Posting:
    return take_payment(
        entry=entry,
        cents=line["dollars"] * 100,
        method=Method(line["method"]),
        reference=line.get("reference", ""),
        key=uuid4(),
        by=by,
        at=at,
    )


def drive_money(
    scenario: Scenario, entries: dict[int, int], send: Callable[[str, dict[str, Any]], str]
) -> int:
    """Type the same into the office's pages; returns how many payments stand."""
    money = scenario.story["money"]
    for line in money["payments"]:
        _type(entries[line["entry"]], line, send)
    wrong = money["wrong"]
    at = entries[wrong["entry"]]
    page = _type(at, wrong, send)
    number = page.split("Posting ")[1].split(",")[0]
    form = {"number": number, "reason": money["reason"]}
    _send(at, "reverse", form, send)
    _type(entries[wrong["meant"]], wrong, send)
    return len(money["payments"]) + 1


def _type(entry_id: int, line: dict[str, Any], send: Callable[[str, dict[str, Any]], str]) -> str:
    form = {
        "amount": str(line["dollars"]),
        "method": line["method"],
        "reference": line.get("reference", ""),
    }
    # Sent twice, as by a double tap: it is posted once.
    key = str(uuid4())
    _send(entry_id, "payment", {"key": key, **form}, send)
    return _send(entry_id, "payment", {"key": key, **form}, send)


def _send(
    entry_id: int,
    do: str,
    form: dict[str, str],
    send: Callable[[str, dict[str, Any]], str],
) -> str:
    typed = {"key": str(uuid4()), **form}
    named = {f"{do}-{name}": value for name, value in typed.items()}
    return send(f"/entries/{entry_id}/money/", {"do": do, **named})
