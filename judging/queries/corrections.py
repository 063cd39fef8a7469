"""A version of a result beside the former one: what the correction changed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from entries.models import Entry
from entries.rules.money_words import dollars
from judging.models import Criterion, Judge, Placing, Result
from judging.queries.replay import Replay
from judging.queries.results import number_of
from judging.rules.cards.scorecard import Mark, MarkState
from judging.rules.results.difference import LineChange, VersionLine, line_changes, mark_changes
from judging.rules.round.card_hash import plain_number
from showrun.language import gettext as _
from showrun.shows.models import Show


@dataclass(frozen=True)
class EntryChange:
    """A line that changed, with its entry."""

    entry: Entry
    change: LineChange

    @property
    def purse(self) -> str:
        """The change of the purse, with its sign; empty where there is none."""
        cents = self.change.purse_by
        return f"{'+' if cents > 0 else ''}{dollars(cents)}" if cents else ""

    @property
    def total(self) -> str:
        """The total before and after; empty where it is the same."""
        was, now = self.change.was, self.change.now
        if not (was and now and self.change.total_changed):
            return ""
        return f"{was.total:.2f} → {now.total:.2f} ({self.change.total_by:+.2f})"


@dataclass(frozen=True)
class Correction:
    """A version with its former one; everything that is another."""

    result: Result
    former: Result
    lines: tuple[EntryChange, ...]

    @property
    def moved(self) -> list[EntryChange]:
        """The entries with another place."""
        return [line for line in self.lines if line.change.place_moved]

    def of_entry(self, entry: Entry) -> EntryChange | None:
        """What it changed for one entry."""
        return next((line for line in self.lines if line.entry.pk == entry.pk), None)


@dataclass(frozen=True)
class MarkChange:
    """A mark that stood in the former version, and the one that stands now."""

    entry: str
    judge: str
    row: str
    was: str
    now: str


def corrections(results: Iterable[Result], *, released: bool) -> dict[int, Correction]:
    """Return what each of these versions changed, by result id; first versions are left out.

    The former version is the last that was released before it. `released`: nothing else may be
    told; otherwise, where none was, the version before it.
    """
    wanted = [result for result in results if result.version > 1]
    if not wanted:
        return {}
    of_class: dict[int, list[Result]] = {}
    classes = [result.show_class_id for result in wanted]
    for version in Result.objects.filter(show_class__in=classes).order_by("version"):
        of_class.setdefault(version.show_class_id, []).append(version)
    formers = {}
    for result in wanted:
        before = [r for r in of_class[result.show_class_id] if r.version < result.version]
        public = [r for r in before if r.released_at]
        former = public[-1] if public else None if released or not before else before[-1]
        if former:
            formers[result.pk] = former
    lines = _lines({*formers, *(former.pk for former in formers.values())})
    return {
        result.pk: _correction(result, formers[result.pk], lines)
        for result in wanted
        if result.pk in formers
    }


def _lines(results: Iterable[int]) -> dict[int, list[Placing]]:
    found: dict[int, list[Placing]] = {result_id: [] for result_id in results}
    for placing in Placing.objects.filter(result__in=list(found)).select_related("entry"):
        found[placing.result_id].append(placing)
    return found


def _correction(result: Result, former: Result, lines: dict[int, list[Placing]]) -> Correction:
    was, now = lines[former.pk], lines[result.pk]
    entries = {number_of(placing.entry): placing.entry for placing in [*was, *now]}
    changed = line_changes(map(_line, was), map(_line, now))
    return Correction(
        result, former, tuple(EntryChange(entries[change.entry], change) for change in changed)
    )


def _line(placing: Placing) -> VersionLine:
    return VersionLine(
        entry=number_of(placing.entry),
        place=placing.place,
        total=placing.total,
        by_section={code: Decimal(points) for code, points in placing.by_section.items()},
        purse_cents=placing.purse_cents,
    )


def marks_changed(correction: Correction) -> list[MarkChange]:
    """Return the marks of the class that are others, told again from the events.

    It reads the round twice, so only the page of one correction asks for it.
    """
    result, former = correction.result, correction.former
    show = result.show_class.show
    before = Replay.of(show, until=former.computed_at).marks
    after = Replay.of(show, until=result.computed_at).marks
    placed = Placing.objects.filter(result__in=[result, former]).select_related("entry")
    entries = {placing.entry_id: placing.entry for placing in placed}
    sections = {code for placing in placed for code in placing.by_section}
    judges = Judge.objects.filter(show=show).select_related("person").in_bulk()
    rows = _rows(show, sections)
    return [
        MarkChange(
            str(entries[row.entry]),
            str(judges[row.judge]),
            rows[row.criterion],
            said(was),
            said(now),
        )
        for row, was, now in mark_changes(before, after)
        if row.entry in entries and row.criterion in rows
    ]


def _rows(show: Show, sections: Iterable[str]) -> dict[str, str]:
    found = Criterion.objects.filter(
        section__scorecard__show=show, section__code__in=list(sections)
    ).order_by("section__scorecard__in_use", "section__scorecard__version")
    columns = found.values_list("code", "section__name", "name")
    return {code: f"{section}: {name}" for code, section, name in columns}


def said(mark: Mark | None) -> str:
    """Say a mark in a table."""
    if mark is None:
        return _("none")
    if mark.state is MarkState.MARKED:
        return plain_number(mark.value)
    return mark.state.words
