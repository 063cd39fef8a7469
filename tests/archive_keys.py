"""Keys inside a restored show's JSON, held against its rows."""

from __future__ import annotations

from entries.models import Entry
from judging.models import Announcement, Judge, PlanJob, Question, RoundEvent, Scorecard
from reports.models import Paper
from showrun.shows.models import AuditEntry, Show
from tests.judged_show import class_of


def demand_keys_of(back: Show) -> None:
    """Demand it of what `archive_stage` writes, whatever table the restoring goes by."""
    judges = set(Judge.objects.filter(show=back).values_list("pk", flat=True))
    entries = set(Entry.objects.filter(show=back).values_list("pk", flat=True))
    for told in Announcement.objects.filter(show=back):
        assert told.changes
        for line in told.changes:
            assert line["judge"] in judges and line["entry"] in entries
    case = PlanJob.objects.get(show=back).case
    result = PlanJob.objects.get(show=back).result
    pairs = [*case["seats"], *case["called_off"], *case["push"]["visits"], *result["visits"]]
    assert len(pairs) == 4
    assert all(pair[0] in judges and pair[1] in entries for pair in pairs)
    noted = list(AuditEntry.objects.filter(show=back, verb="noted").order_by("pk"))
    cards = set(Scorecard.objects.filter(show=back).values_list("pk", flat=True))
    events = {str(pk) for pk in RoundEvent.objects.filter(show=back).values_list("pk", flat=True)}
    asked = set(Question.objects.filter(judge__show=back).values_list("pk", flat=True))
    assert noted[0].before["card"] in cards and noted[0].after["card"] in cards
    assert noted[0].after["class"] == class_of(back).pk
    for sent in (noted[1].before["sent"], noted[2].before[0]["sent"]):
        assert sent["id"] in events and sent["entry"] in entries
    assert {noted[1].after["question"], *noted[1].after["asked"]} <= asked
    assert noted[2].after == {"still_held": {sent["id"]: "late"}, "class": "Trail wagon"}
    assert noted[3].after["entry"] in entries
    assert Paper.objects.get(pk=noted[3].after["id"]).show == back
