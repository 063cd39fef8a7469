"""The invented show can be entered whenever the demonstration is started."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from showrun.project.demo.load import load_show
from showrun.project.demo.scenario import read_scenario


@pytest.mark.django_db
@pytest.mark.parametrize("days", [-100, -2, -1, 0, 1, 6, 7, 400])
def test_its_days_lie_ahead_and_keep_their_weekdays(days: int):
    scenario = read_scenario()
    planned = scenario.meta["starts_on"]
    at = datetime(planned.year, planned.month, planned.day, 23, tzinfo=UTC) + timedelta(days=days)
    show = load_show(scenario, at=at)
    assert show.starts_on > at.date()
    assert show.starts_on.weekday() == planned.weekday()
    assert (show.ends_on - show.starts_on) == (scenario.meta["ends_on"] - planned)
    assert show.judging_starts_at.astimezone(show.tz).hour == 8
    if days == -100:
        assert show.starts_on == planned
