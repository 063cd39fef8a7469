"""Rigs as judges found them at the wagon, and the facts a card goes by."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import QuerySet

from entries.models import Entry
from entries.rules.places import Status
from entries.rules.rig import FACTS
from judging.models import Card, Judge, RigReport
from showrun.shows.models import Show


def card_facts(card: Card | None, entry: Entry) -> dict[str, str]:
    """Return the rig a card goes by: as its judge found it, else as it was entered."""
    return facts_of(card.rig) if card is not None and card.rig else entry.rig.facts()


def facts_of(kept: dict[str, str]) -> dict[str, str]:
    """Return kept facts in the order of `FACTS`, which not every database keeps."""
    return {name: kept[name] for name in FACTS}


def _reports(show: Show) -> QuerySet[RigReport]:
    reports = RigReport.objects.filter(judge__show=show)
    return reports.select_related("judge__person", "entry", "settled_by")


def open_rig_reports(show: Show) -> list[RigReport]:
    """Return what judges found and nobody has settled, oldest first; not of scratched wagons."""
    still_here = [Status.CONFIRMED.value, Status.PRACTICE.value]
    found = _reports(show).filter(state=RigReport.State.OPEN, entry__status__in=still_here)
    return list(found.order_by("reported_at", "pk"))


def rig_reports(show: Show) -> list[RigReport]:
    """Return every report that was put to the office, the newest first.

    Left out are a judge's own later touches that took a report back: nothing was asked by them.
    """
    return [report for report in _reports(show) if report.facts != report.entered]


def latest_reports(judge: Judge) -> dict[int, RigReport]:
    """Return what the judge last said of each entry's rig, by entry id.

    An entry whose rig is as entered after all is left out.
    """
    last = standing_reports(RigReport.objects.filter(judge=judge).order_by("pk"))
    return {entry_id: last[entry_id] for entry_id in last if not taken_back(last[entry_id])}


def standing_reports(reports: Iterable[RigReport]) -> dict[int, RigReport]:
    """Return the report that stands at each entry, from one judge's reports in the order kept.

    A phone's later touch stands before its earlier one, whenever they arrived; between two
    phones the one that could write last stands.
    """
    by_phone: dict[tuple[int, int], RigReport] = {}
    for report in reports:
        key = (report.entry_id, report.device_id)
        if key not in by_phone or by_phone[key].seq < report.seq:
            by_phone.pop(key, None)
            by_phone[key] = report
    return {report.entry_id: report for report in by_phone.values()}


def taken_back(report: RigReport) -> bool:
    """Say whether the report says that the rig is as entered after all."""
    return bool(report.facts == report.entered)
