"""What lies on the desk of a class before its result goes out."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

from entries.models import Entry
from judging.models import ClassCard, Judge, Result
from judging.queries.questions import Place, places_waiting
from judging.queries.results import (
    ClassInputs,
    MissingMarks,
    count_waiting,
    latest_results,
    not_declared,
    rig_open,
    show_inputs,
)
from judging.rules.results.section_points import SectionPoints
from showrun.language import gettext as _
from showrun.language import ngettext
from showrun.shows.models import Show, ShowClass


@dataclass(frozen=True)
class MissingCard:
    """A card a result waits for: all that one judge still owes at one entry."""

    entry: Entry
    judge_code: str
    judge_name: str
    handed_in: bool
    rows: list[tuple[str, int]]

    def __str__(self) -> str:
        """Say whose card it is and what is missing of it."""
        return _("{judge_code} {judge_name}, wagon {entry}: {lack}.").format(
            judge_code=self.judge_code,
            judge_name=self.judge_name,
            entry=self.entry.called,
            lack=self._lack(),
        )

    def _lack(self) -> str:
        lacking = sum(count for _, count in self.rows)
        if not lacking and self.handed_in:
            return _("nothing could be judged of {rows}").format(
                rows=", ".join((name for name, _ in self.rows))
            )
        if not lacking:
            return _("every row is marked, but the card is not handed in")
        where = ", ".join(f"{name} {count}" for name, count in self.rows if count)
        rows = ngettext(
            "{lacking} row without a mark ({where})",
            "{lacking} rows without a mark ({where})",
            lacking,
        ).format(lacking=lacking, where=where)
        return rows if self.handed_in else _("not handed in, {rows}").format(rows=rows)


@dataclass(frozen=True)
class ClassDesk:
    """A class with its inputs and its newest result."""

    show_class: ShowClass
    class_card: ClassCard | None
    sections: list[tuple[str, str]]
    n_entries: int
    against: str
    missing: list[MissingCard]
    rigs_open: list[str]
    places_against: list[str]
    newest: Result | None
    public: Result | None
    marks_changed: bool
    questions_open: int
    # Of the cards that are in, by entry number; names of all judges by their short names.
    points: list[SectionPoints[int]] = field(default_factory=list)
    judges: dict[str, str] = field(default_factory=dict)

    @property
    def can_compute(self) -> bool:
        """Whether all a result needs is in."""
        return not self.missing and self._could_be_placed

    @property
    def can_compute_with_gaps(self) -> bool:
        """Whether cards are missing and nothing else; the method declared may still refuse."""
        return bool(self.missing) and self._could_be_placed

    @property
    def _could_be_placed(self) -> bool:
        waits = self.against or self.rigs_open or self.places_against
        return not waits and self.n_entries > 0


def class_desks(show: Show) -> list[ClassDesk]:
    """Return the desk of every class; the number of reads does not grow with the show."""
    classes = list(show.classes.all())
    inputs = show_inputs(show, classes)
    newest = {result.show_class_id: result for result in latest_results(show)}
    released = Result.objects.released().filter(show_class__in=newest)
    public = {result.show_class_id: result for result in released}
    names = dict(Judge.objects.filter(show=show).values_list("code", "person__name"))
    asked = places_waiting(show)
    return [
        _desk(
            show_class,
            inputs.get(show_class.pk),
            newest=newest.get(show_class.pk),
            public=public.get(show_class.pk),
            names=names,
            asked=asked,
        )
        for show_class in classes
    ]


def _desk(
    show_class: ShowClass,
    inputs: ClassInputs | None,
    *,
    newest: Result | None,
    public: Result | None,
    names: dict[str, str],
    asked: list[frozenset[Place]],
) -> ClassDesk:
    if inputs is None:
        against = not_declared(show_class)
        return ClassDesk(show_class, None, [], 0, against, [], [], [], newest, public, False, 0)
    entries = {entry.pk for entry in inputs.entries}
    sections = {section.pk for section in inputs.class_card.sections.all()}
    return ClassDesk(
        show_class=show_class,
        class_card=inputs.class_card,
        sections=[(section.code, section.name) for section in inputs.sections],
        n_entries=len(inputs.entries),
        against=_against(inputs),
        missing=_missing_cards(inputs, names),
        rigs_open=[rig_open(report) for report in inputs.rigs_open],
        places_against=list(inputs.placed.against),
        newest=newest,
        public=public,
        marks_changed=newest is not None and inputs.fingerprint() != newest.inputs_hash,
        questions_open=count_waiting(asked, entries, sections),
        points=inputs.points,
        judges=names,
    )


def _against(inputs: ClassInputs) -> str:
    """Say what stands before the cards: no entry, or no judge for one."""
    if not inputs.entries:
        return _("No confirmed entry is in this class.")
    if not inputs.unseated:
        return ""
    entry, section, short = inputs.unseated[0]
    more = len(inputs.unseated) - 1
    if more:
        said = ngettext(
            "Wagon {entry} lacks {short} judge for {section}, and {more} more like it. "
            "Draw the panel first.",
            "Wagon {entry} lacks {short} judges for {section}, and {more} more like it. "
            "Draw the panel first.",
            short,
        )
    else:
        said = ngettext(
            "Wagon {entry} lacks {short} judge for {section}. Draw the panel first.",
            "Wagon {entry} lacks {short} judges for {section}. Draw the panel first.",
            short,
        )
    return said.format(entry=entry.called, short=short, section=section, more=more)


def _missing_cards(inputs: ClassInputs, names: dict[str, str]) -> list[MissingCard]:
    by_card: dict[tuple[int, str], list[MissingMarks]] = defaultdict(list)
    for gap in inputs.missing:
        by_card[gap.entry.number or 0, gap.judge_code].append(gap)
    section_names = {section.code: section.name for section in inputs.sections}
    return [
        MissingCard(
            entry=gaps[0].entry,
            judge_code=code,
            judge_name=names.get(code, code),
            handed_in=gaps[0].handed_in,
            rows=[(section_names[gap.section], gap.rows) for gap in gaps],
        )
        for (_, code), gaps in sorted(by_card.items())
    ]
