"""How far the judges of a show agreed, and what each of them may read of their own marks."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from entries.models import EntryClass
from entries.rules.places import Status
from judging.models import ClassCard, Judge, Result, Seat, Section
from judging.queries.panel_findings import HABITS, TITLES
from judging.queries.panel_marks import PanelMarks, panel_marks
from judging.rules.results.agreement import (
    Alpha,
    Coefficient,
    Concordance,
    IntraclassCorrelation,
    icc,
    kendall_w,
    krippendorff_alpha,
)
from judging.rules.results.agreement_rotating import icc_rotating
from judging.rules.results.habits import Habit, Habits
from judging.rules.results.panel_checks import PanelChecks
from judging.rules.results.panel_strips import Drawing, interval_strip
from judging.rules.results.report_words import agreement_words, judge_words
from showrun.errors import NotFound
from showrun.language import gettext as _
from showrun.shows.models import Show
from showrun.shows.queries import Visitor, demand
from showrun.shows.rules.access import Deed

LEAST = 2  # wagons and judges that can be compared at all
# As in the checks; the report states intervals, it asks nothing.
ALPHA = 0.05


@dataclass(frozen=True)
class SectionAgreement:
    """How far the judges of a section agree on the wagons all of them saw.

    `icc` and `w` are None where they share too few; `left_out` counts the other wagons. With such
    wagons `single` is by the marks of all, whoever saw them, else that of `icc`.
    """

    name: str
    n_judges: int
    n_entries: int
    left_out: int
    icc: IntraclassCorrelation | None
    single: Coefficient
    w: Concordance | None
    alpha: Alpha
    words: str
    judges: frozenset[int]


@dataclass(frozen=True)
class JudgeReport:
    """One judge's habits with their intervals, and the same in sentences."""

    judge: Judge
    cards: int
    habits: dict[str, Habit | None]
    sentences: list[tuple[str, str]]
    drawing: Drawing | None


@dataclass(frozen=True)
class PanelReport:
    """The report of a show."""

    sections: list[SectionAgreement]
    judges: list[JudgeReport]


def panel_report(show: Show) -> PanelReport:
    """Work the report out from all cards that are in."""
    return report_of(panel_marks(show))


def report_of(panel: PanelMarks) -> PanelReport:
    """Work the report out from these marks."""
    found = panel.checks(ALPHA)
    if found is None:
        return PanelReport([], [])
    working = sorted({mark.judge_id for mark in panel.marks}, key=lambda pk: panel.judges[pk].code)
    return PanelReport(
        sections=_sections(panel),
        judges=[_judge(panel, found, judge_id) for judge_id in working],
    )


def own_report(judge: Judge) -> tuple[JudgeReport | None, list[SectionAgreement]]:
    """Return what one judge may read: their own habits, and the sections the judge marked."""
    report = panel_report(judge.show)
    own = next((one for one in report.judges if one.judge.pk == judge.pk), None)
    return own, [section for section in report.sections if judge.pk in section.judges]


def results_are_out(judge: Judge) -> bool:
    """Say whether every class that counts a card of this judge has its result released."""
    seats = set(Seat.objects.filter(judge=judge).values_list("entry_id", "section_id"))
    classes = _classes_of(judge.show, seats)
    out = Result.objects.released().filter(show_class__in=classes)
    return bool(classes) and set(out.values_list("show_class_id", flat=True)) == classes


def judge_reported_to(person: Visitor, judge_id: int, deed: Deed) -> Judge:
    """Return the judge whose report the person may have; their own is theirs after release."""
    judge = Judge.objects.select_related("show", "person").filter(pk=judge_id).first()
    if judge is None:
        raise NotFound()
    own = judge.person_id == person.pk and results_are_out(judge)
    demand(person, deed, judge.show, owner=own)
    return judge


def _classes_of(show: Show, seats: set[tuple[int, int]]) -> set[int]:
    """Return the classes that count one of these entries in one of these sections."""
    declared = ClassCard.objects.filter(show_class__show=show).prefetch_related("sections")
    sections = {c.show_class_id: {s.pk for s in c.sections.all()} for c in declared}
    entered = EntryClass.objects.filter(
        show_class__in=list(sections), entry__status=Status.CONFIRMED.value
    )
    here: dict[int, set[int]] = defaultdict(set)
    for class_id, entry_id in entered.values_list("show_class_id", "entry_id"):
        here[class_id].add(entry_id)
    return {
        class_id
        for class_id, counted in sections.items()
        if any(entry in here[class_id] and section in counted for entry, section in seats)
    }


# --- Judges -----------------------------------------------------------------------------------


def _judge(panel: PanelMarks, found: PanelChecks, judge_id: int) -> JudgeReport:
    habits = {name: _habit(getattr(found, name), judge_id) for name in HABITS}
    judge, own = panel.judges[judge_id], habits["severity"]
    return JudgeReport(
        judge=judge,
        cards=len(panel.seen_by(judge_id)),
        habits=habits,
        sentences=[(_(TITLES[name]), judge_words(name, habits[name])) for name in HABITS],
        drawing=interval_strip([(judge.code, own.size, own.low, own.high)]) if own else None,
    )


def _habit(habits: Habits | None, judge_id: int) -> Habit | None:
    """Return the judge's habit where the panel can tell it."""
    if habits is None:
        return None
    own = next((one for one in habits.judges if one.judge == judge_id), None)
    return own if own is not None and math.isfinite(own.size) else None


# --- Sections ---------------------------------------------------------------------------------


def _sections(panel: PanelMarks) -> list[SectionAgreement]:
    """Return the agreement of every section, on each card's mean mark of it."""
    given: dict[int, dict[tuple[int, int], list[float]]] = defaultdict(lambda: defaultdict(list))
    sections: dict[int, Section] = {}
    for mark, score in zip(panel.marks, panel.scores, strict=True):
        section = panel.criteria[mark.criterion_id].section
        sections[section.pk] = section
        given[section.pk][mark.entry_id, mark.judge_id].append(score)
    order = sorted(sections.values(), key=lambda section: (section.position, section.pk))
    return [
        _agreement(
            section.name,
            {card: math.fsum(marks) / len(marks) for card, marks in given[section.pk].items()},
        )
        for section in order
    ]


def _agreement(name: str, means: dict[tuple[int, int], float]) -> SectionAgreement:
    entries = sorted({entry for entry, _ in means})
    judges = sorted({judge for _, judge in means})
    table = [[means.get((entry, judge), math.nan) for judge in judges] for entry in entries]
    whole = [row for row in table if not any(map(math.isnan, row))]
    enough = len(whole) >= LEAST and len(judges) >= LEAST
    found = icc(whole) if enough else None
    if found is not None and len(whole) == len(entries):
        single = found.agreement_single
    else:
        cards = sorted(means)
        single = _by_all(
            tuple(entry for entry, _ in cards),
            tuple(judge for _, judge in cards),
            tuple(means[card] for card in cards),
        )
    return SectionAgreement(
        name=name,
        n_judges=len(judges),
        n_entries=len(whole),
        left_out=len(entries) - len(whole),
        icc=found,
        single=single,
        w=kendall_w(whole) if enough else None,
        alpha=_alpha(table),
        words=_words(single, len(judges)),
        judges=frozenset(judges),
    )


def _alpha(table: Sequence[Sequence[float]]) -> Alpha:
    """Round first: means that differ in the last digits only are one mark."""
    return krippendorff_alpha([[round(value, 3) for value in row] for row in table])


# The same marks are asked about again whenever the page is opened; each section fits many panels.
_by_all = lru_cache(maxsize=64)(icc_rotating)


def _words(single: Coefficient, n_judges: int) -> str:
    if n_judges < LEAST:
        return _("One judge alone has nobody to agree with.")
    return agreement_words(single)
