"""How pages and papers write money."""

from __future__ import annotations

from django import template

from entries.rules import money_words

register = template.Library()


@register.filter
def dollars(cents: int) -> str:
    """Write an amount, as `$1,234.50`."""
    return money_words.dollars(cents)


@register.filter
def balance(cents: int) -> str:
    """Say what a balance means, as `$75.00 to pay`."""
    return money_words.balance_words(cents)
