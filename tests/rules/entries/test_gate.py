"""What a tick at the gate is called: one word for it, on the page and in the record."""

from __future__ import annotations

from entries.rules.gate import TICK_WORDS, Tick, tick_words


def test_every_tick_has_its_word_in_the_order_of_the_gate() -> None:
    assert list(TICK_WORDS) == list(Tick)
    assert [tick_words(tick) for tick in Tick] == [
        "arrived", "papers seen", "crew seen", "number plate given", "on the spot",
    ]  # fmt: skip
