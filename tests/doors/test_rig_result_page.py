"""The results page while a rig found at a wagon waits for the office."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from judging.actions.compute_result import compute_result
from judging.actions.settle_rig import decline_rig
from judging.models import Card, RigReport
from tests.judged_show import (
    AT,
    build_show,
    class_of,
    entry_of,
    judge_of,
    mark_everything,
    office_of,
    send,
)
from tests.round_events import rig_found

pytestmark = pytest.mark.django_db

WAITS = "A rig found at a wagon of this class waits to be adopted or declined first."


def test_nothing_is_signed_while_a_rig_waits_and_the_page_says_why():
    show = build_show(n_judges=2, n_entries=2, kin=False)
    mark_everything(show)
    office, judge, entry = office_of(show), judge_of(show, "J1"), entry_of(show, 1)
    compute_result(show_class=class_of(show), by=office, at=AT)
    Card.objects.filter(judge=judge, entry=entry).update(handed_in_at=None)
    found = {**entry.rig.facts(), "pattern": "military"}
    send(judge.devices.get(), [rig_found(entry, found)])
    client = Client()
    client.force_login(office)
    address = reverse("judging:office-results", args=[show.slug])
    page = client.get(address).content.decode()
    assert "Chidi Abara (J1) found military pattern instead of civil pattern." in page
    # Of the class that has a result; it can be neither signed nor released.
    assert page.count(WAITS) == 2
    decline_rig(report=RigReport.objects.get(), note="Civil.", by=office, at=AT)
    page = client.get(address).content.decode()
    assert WAITS not in page
    assert "instead of civil pattern" not in page
