"""What the checks of a panel find in the marks handed in, laid out for the office."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from entries.models import Entry
from judging.models import Judge, Question
from judging.queries.panel_marks import COMMON_SCALE, PanelMarks, panel_marks
from judging.rules.results.habits import Habits
from judging.rules.results.panel_checks import MEANINGS, Meaning, PanelChecks
from judging.rules.results.panel_strips import Drawing, interval_strip, wagon_strip
from judging.rules.results.question_words import habit_words
from judging.rules.round.card_hash import plain_number
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.language import ngettext
from showrun.shows.models import Show

TITLES: Mapping[str, str] = {
    "marks": N_("Single marks"),
    "cards": N_("Whole cards"),
    "swaps": N_("Exchanged cards"),
    "same": N_("The same mark on every row"),
    "severity": N_("Severity"),
    "spread": N_("How far apart the wagons are set"),
    "consistency": N_("Steadiness from row to row"),
    "drift": N_("Drift through the day"),
    "tiring": N_("Steadiness late in the day"),
    "order": N_("The wagon seen before"),
}
HABITS = ("severity", "spread", "consistency", "drift", "tiring")


@dataclass(frozen=True)
class Finding:
    """One thing a check found; `judge_id` is None where it is said of the whole panel."""

    sentence: str
    statistic: float
    judge_id: int | None
    threshold: float
    asked: Question | None = None


@dataclass(frozen=True)
class Check:
    """One check with what it looked at and found; `untold` says why it could not run."""

    name: str
    title: str
    meaning: Meaning
    threshold: float | None
    by_office: bool
    findings: list[Finding]
    untold: str = ""


@dataclass(frozen=True)
class WagonMarks:
    """All judges' marks of one wagon, drawn and as figures."""

    entry: Entry
    drawing: Drawing
    judges: list[tuple[Judge, int, float, float, float]]  # rows, lowest, mean, highest


@dataclass(frozen=True)
class SeverityLine:
    """One judge's severity with its interval; nan where the panel cannot tell."""

    judge: Judge
    size: float
    low: float
    high: float

    @property
    def told(self) -> bool:
        """Whether the panel can tell."""
        return math.isfinite(self.size)


@dataclass(frozen=True)
class Findings:
    """The page of the checks."""

    checks: list[Check] = field(default_factory=list)
    cannot_know: list[str] = field(default_factory=list)
    wagons: list[WagonMarks] = field(default_factory=list)
    severity: list[SeverityLine] = field(default_factory=list)
    drawing: Drawing | None = None
    n_marks: int = 0


def findings_of(show: Show, alpha: float) -> Findings:
    """Run the checks and lay out what they found; nothing is asked and nothing changed."""
    panel = panel_marks(show)
    found = panel.checks(alpha)
    if found is None:
        return Findings()
    severity = severity_lines(panel, found)
    return Findings(
        checks=_checks(show, panel, found),
        cannot_know=[*found.cannot_know, *_without_times(panel)],
        wagons=_wagons(panel),
        severity=severity,
        drawing=interval_strip([(one.judge.code, one.size, one.low, one.high) for one in severity]),
        n_marks=len(panel.marks),
    )


def severity_lines(panel: PanelMarks, found: PanelChecks) -> list[SeverityLine]:
    """Return every judge's severity, by the judges' short names."""
    lines = [
        SeverityLine(panel.judges[_pk(one.judge)], one.size, one.low, one.high)
        for one in found.severity.judges
    ]
    return sorted(lines, key=lambda line: line.judge.code)


def _without_times(panel: PanelMarks) -> list[str]:
    n = panel.untimed
    if not n:
        return []
    return [
        ngettext(
            "{n} card has no time, as those keyed from paper: drift, late steadiness and the "
            "wagon seen before are not checked.",
            "{n} cards have no time, as those keyed from paper: drift, late steadiness and the "
            "wagon seen before are not checked.",
            n,
        ).format(n=n)
    ]


def _wagons(panel: PanelMarks) -> list[WagonMarks]:
    given: dict[int, dict[int, list[float]]] = defaultdict(lambda: defaultdict(list))
    for mark, score in zip(panel.marks, panel.scores, strict=True):
        given[mark.entry_id][mark.judge_id].append(score)
    laid_out = []
    for entry_id in sorted(given, key=lambda pk: panel.entries[pk].number or 0):
        cards = sorted(given[entry_id].items(), key=lambda card: panel.judges[card[0]].code)
        laid_out.append(
            WagonMarks(
                entry=panel.entries[entry_id],
                drawing=wagon_strip([(panel.judges[pk].code, marks) for pk, marks in cards]),
                judges=[
                    (
                        panel.judges[pk],
                        len(marks),
                        min(marks),
                        math.fsum(marks) / len(marks),
                        max(marks),
                    )
                    for pk, marks in cards
                ],
            )
        )
    return laid_out


# --- Check by check ---------------------------------------------------------------------------


def _checks(show: Show, panel: PanelMarks, found: PanelChecks) -> list[Check]:
    asked = _asked(show)
    tell = {
        "marks": _marks,
        "cards": _cards,
        "swaps": _swaps,
        "same": _same,
        "order": _order,
    }
    checks = []
    for name, title in TITLES.items():
        part = getattr(found, name)
        findings = tell[name](panel, found) if name in tell else _habits(panel, found, name)
        threshold = getattr(part, "threshold", None)
        checks.append(
            Check(
                name=name,
                title=_(title),
                meaning=MEANINGS[name].said(),
                threshold=threshold if threshold and math.isfinite(threshold) else None,
                by_office=name in HABITS or name == "order",
                findings=[
                    Finding(
                        one.sentence,
                        abs(one.statistic),
                        one.judge_id,
                        one.threshold,
                        asked.get((one.judge_id, name, _about(panel, name, one))),
                    )
                    for one in findings
                ],
                untold=_untold(found, name),
            )
        )
    return checks


def _asked(show: Show) -> dict[tuple[int | None, str, str], Question]:
    """Return the questions about whole days by judge, check and marks."""
    questions = Question.objects.filter(judge__show=show, kind=Question.Kind.DAY)
    found: dict[tuple[int | None, str, str], Question] = {}
    for one in questions:
        found[one.judge_id, one.check_name, one.asked_about] = one
        if one.check_name == "order":
            found[None, one.check_name, ""] = one
    return found


def _about(panel: PanelMarks, name: str, finding: Finding) -> str:
    if name not in HABITS or finding.judge_id is None:
        return ""
    return panel.fingerprint(finding.judge_id)


def _untold(found: PanelChecks, name: str) -> str:
    part = getattr(found, name)
    if part is None:
        return _("Not checked: a card has no time.")
    if name in HABITS and all(math.isnan(one.size) for one in part.judges):
        return _("This panel cannot tell.")
    if name == "order" and math.isnan(part.size):
        return _("This panel cannot tell: all judges walked in one order.")
    threshold = getattr(part, "threshold", None)
    if threshold is not None and not math.isfinite(threshold):
        return _("Too few cards are in to check anything.")
    return ""


def _marks(panel: PanelMarks, found: PanelChecks) -> Iterator[Finding]:
    odd = found.marks
    for index in odd.flagged:
        mark = panel.marks[index]
        row, entry = panel.criteria[mark.criterion_id], panel.entries[mark.entry_id]
        expected = float(odd.expected[index]) * float(row.max_mark) / COMMON_SCALE
        yield Finding(
            _(
                "{judge}, wagon {entry}, {row}: the card says {mark}, the other marks "
                "suggest about {expected:.1f}."
            ).format(
                judge=panel.judges[mark.judge_id],
                entry=entry.called,
                row=row.name,
                mark=plain_number(mark.value),
                expected=expected,
            ),
            float(odd.statistic[index]),
            mark.judge_id,
            odd.threshold,
        )


def _cards(panel: PanelMarks, found: PanelChecks) -> Iterator[Finding]:
    odd = found.cards
    for index in odd.flagged:
        judge, entry = panel.judges[_pk(odd.judge[index])], panel.entries[_pk(odd.entry[index])]
        shift = float(odd.shift[index])
        low, high = sorted(abs(float(end[index])) for end in (odd.low, odd.high))
        if shift > 0:
            said = _(
                "{judge}: the card of wagon {entry} stands {points:.1f} points a row higher than "
                "the other cards suggest ({low:.1f} to {high:.1f})."
            )
        else:
            said = _(
                "{judge}: the card of wagon {entry} stands {points:.1f} points a row lower than "
                "the other cards suggest ({low:.1f} to {high:.1f})."
            )
        said = said.format(judge=judge, entry=entry.called, points=abs(shift), low=low, high=high)
        if odd.pair_of[index] >= 0:
            unsure = _("With two judges it cannot be told whose card is odd.")
            said = f"{said} {unsure}"
        yield Finding(
            said,
            float(odd.statistic[index]),
            judge.pk,
            odd.threshold,
        )


def _swaps(panel: PanelMarks, found: PanelChecks) -> Iterator[Finding]:
    for swap in found.swaps.flagged:
        judge = panel.judges[_pk(swap.judge)]
        first, second = panel.entries[_pk(swap.first)], panel.entries[_pk(swap.second)]
        said = _(
            "{judge}: the cards of wagons {first} and {second} fit much better exchanged."
        ).format(judge=judge, first=first, second=second)
        if swap.pair:
            unsure = _("With two judges it cannot be told whose cards.")
            said = f"{said} {unsure}"
        yield Finding(
            said,
            swap.statistic,
            judge.pk,
            swap.threshold,
        )


def _same(panel: PanelMarks, found: PanelChecks) -> Iterator[Finding]:
    for card in found.same:
        judge, entry = panel.judges[_pk(card.judge)], panel.entries[_pk(card.entry)]
        yield Finding(
            _(
                "{judge}: {share:.0f} % of the rows of wagon {entry} have the mark {mark:g} of "
                "ten; the other judges' cards of it differ more from row to row."
            ).format(judge=judge, share=card.share * 100, entry=entry.called, mark=card.mark),
            card.statistic,
            judge.pk,
            card.threshold,
        )


def _habits(panel: PanelMarks, found: PanelChecks, name: str) -> Iterator[Finding]:
    habits: Habits | None = getattr(found, name)
    if habits is None:
        return
    for habit in habits.judges:
        if habit.flagged:
            judge = panel.judges[_pk(habit.judge)]
            said = _("{judge} {habit} (interval {low:.2f} to {high:.2f}).").format(
                judge=judge, habit=habit_words(name, habit.size), low=habit.low, high=habit.high
            )
            if habits.pair:
                mirror = _("The other judge is the mirror: whose habit it is cannot be told.")
                said = f"{said} {mirror}"
            yield Finding(
                said,
                habit.statistic,
                judge.pk,
                habits.threshold,
            )


def _order(panel: PanelMarks, found: PanelChecks) -> Iterator[Finding]:
    order = found.order
    if order is not None and order.flagged:
        if order.size > 0:
            said = _(
                "A wagon seen after a good one came out higher: by {points:.2f} points a row for "
                "each point of the one before (interval {low:.2f} to {high:.2f})."
            )
        else:
            said = _(
                "A wagon seen after a good one came out lower: by {points:.2f} points a row for "
                "each point of the one before (interval {low:.2f} to {high:.2f})."
            )
        yield Finding(
            said.format(points=abs(order.size), low=order.low, high=order.high),
            order.statistic,
            None,
            order.threshold,
        )


def _pk(label: object) -> int:
    """Return a label as the key it is: judges and entries go into the checks by their keys."""
    assert isinstance(label, int)
    return label
