"""Messages of the office: what one may be, and when it is a second tap."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from entries.rules.message_text import (
    LONGEST_MESSAGE,
    SENT_TWICE_WITHIN,
    fault_of_message,
    sent_twice,
)

NOON = datetime(2127, 5, 14, 12)


@pytest.mark.parametrize("text", ["Water at gate 2.", "Two\nlines\tand a tab", "x" * 2000])
def test_words_and_lines_may_be_sent(text: str) -> None:
    assert fault_of_message(text) == ""


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "Write what"),
        (" \n ", "Write what"),
        ("x" * (LONGEST_MESSAGE + 1), "longer than 2000"),
        ("bell \x07", "cannot be printed"),
        ("half \ud800", "cannot be printed"),
    ],
)
def test_what_no_exhibitor_could_read_is_not_sent(text: str, words: str) -> None:
    assert words in fault_of_message(text)


def test_the_same_words_are_a_reminder_only_after_a_while() -> None:
    assert not sent_twice(None, NOON)
    assert sent_twice(NOON, NOON + SENT_TWICE_WITHIN - timedelta(seconds=1))
    assert not sent_twice(NOON, NOON + SENT_TWICE_WITHIN)
