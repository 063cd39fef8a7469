"""Keys inside JSON: which columns hold some, and how they are led to new ones."""

from __future__ import annotations

from typing import Any

import pytest

from reports.rules.archive_links import ENTRY, EVENT, JUDGE, KEYS, rekeyed

NEW: dict[tuple[str, int | str], int | str] = {
    (ENTRY, 3): 41,
    (JUDGE, 2): 52,
    (EVENT, "aa"): "bb",
    ("shows.person", 9): 60,
}


def led(value: Any, column: str) -> Any:
    return rekeyed(value, KEYS[column], lambda table, key: NEW.get((table, key)))


@pytest.mark.parametrize(
    ("column", "value", "now"),
    [
        (
            "judging.announcement.changes",
            [{"judge": 2, "entry": 3, "entry_number": 3, "was": None}],
            [{"judge": 52, "entry": 41, "entry_number": 3, "was": None}],
        ),
        (
            "judging.planjob.case",
            {"seats": [[2, 3]], "called_off": [], "push": {"visits": [[2, 3, 2, 3]]}, "tries": 2},
            {"seats": [[52, 41]], "called_off": [], "push": {"visits": [[52, 41, 2, 3]]},
             "tries": 2},
        ),
        (
            "judging.roundevent.body",
            {"id": "aa", "entry": 3, "seq": 3, "keyed_by": [{"id": 9, "name": "Oda"}]},
            {"id": "bb", "entry": 41, "seq": 3, "keyed_by": [{"id": 60, "name": "Oda"}]},
        ),
        ("judging.roundevent.body", {"id": "zz", "keyed_by": "O"}, {"id": "zz", "keyed_by": "O"}),
        ("judging.roundevent.body", "?!", "?!"),
        ("shows.auditentry.before", [{"sent": {"entry": 3}}], [{"sent": {"entry": 41}}]),
        ("shows.auditentry.before", {"sent": {"entry": 3}}, {"sent": {"entry": 41}}),
        ("shows.auditentry.after", {"still_held": {"aa": "late"}}, {"still_held": {"bb": "late"}}),
        # Names under a name that elsewhere holds a key, and wagons by their numbers.
        (
            "shows.auditentry.after",
            {"class": "Trail", "entry": "3. Tin Sparrow", "gaps": [{"entry": 3}]},
            {"class": "Trail", "entry": "3. Tin Sparrow", "gaps": [{"entry": 3}]},
        ),
        ("judging.result.gaps", [{"entry": 3}], [{"entry": 3}]),
    ],
)  # fmt: skip
def test_keys_are_led_to_new_ones_and_nothing_else_is(column: str, value: Any, now: Any) -> None:
    before = repr(value)
    assert led(value, column) == now
    assert repr(value) == before


@pytest.mark.parametrize(
    ("key", "now"), [(8, -8), (-8, -8), (0, 0), (True, True), (3.0, 3.0), ("3", "3"), (None, None)]
)
def test_a_number_that_is_no_key_here_is_never_taken_for_one(key: Any, now: Any) -> None:
    assert led({"entry": key}, "judging.roundevent.body") == {"entry": now}
