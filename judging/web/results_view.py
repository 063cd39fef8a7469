"""The office's page of results laid out: a class with its state, every method, and its hands."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from typing import Any

from judging.actions.release_result import HANDS_NEEDED
from judging.models import Placing, Result
from judging.queries.result_desk import ClassDesk, class_desks
from judging.rules.results.method_figures import out_of
from judging.web.public import judge_words, tie_words
from judging.web.release_hours import ReleasePart, release_parts
from judging.web.result_parts import (
    Gaps,
    Purse,
    SectionPicture,
    Sure,
    gaps_part,
    points_pictures,
    purse_part,
    sure_part,
)
from judging.web.result_words import (
    GAPS_COUNT,
    METHOD_NAMES,
    ODD_CENTS,
    SHORT_NAMES,
    SURE_MEANS,
    differs_words,
    fingerprint,
    habit_words,
    method_in_sentence,
    method_name,
    sections_named,
)
from showrun.language import gettext as _
from showrun.language import ngettext
from showrun.shows.models import Person, Show
from showrun.shows.rules.access import Deed, Role, may

SHORT_GROUPS = 4


@dataclass(frozen=True)
class ByMethod:
    """A wagon's total and place by one method; `total` is empty where the method has none."""

    name: str
    short: str
    total: str
    place: str


@dataclass(frozen=True)
class PlacingLine:
    """One wagon by every method; the one that decides is in `placing`."""

    placing: Placing
    shared: bool
    by_section: list[tuple[str, str]]
    others: list[ByMethod]
    differs: str


@dataclass(frozen=True)
class JudgeHabits:
    """How strict the judges of one section were, in sentences."""

    section: str
    sentences: list[str]


@dataclass(frozen=True)
class Typed:
    """A form that was refused: which, the reason typed, and what is wrong with it."""

    form: str = ""
    class_id: int = 0
    reason: str = ""
    faults: dict[str, str] = field(default_factory=dict)


NOTHING_TYPED = Typed()


@dataclass(frozen=True)
class Table:
    """A class on the page."""

    desk: ClassDesk
    state: str
    sign: str
    method_name: str
    out_of: str
    judges: str
    ties: str
    others: list[tuple[str, str]]  # names of the methods beside the declared one
    lines: list[PlacingLine]
    differing: int
    habits: list[JudgeHabits]
    refusals: list[tuple[str, str]]
    sure: Sure | None
    gaps: Gaps | None
    purse: Purse | None
    pictures: list[SectionPicture]
    short_hash: str
    full_hash: str
    signed_by: list[str]
    against_signing: str
    against_release: str
    part: ReleasePart | None
    typed: Typed

    @property
    def waits_for_cards(self) -> bool:
        """Whether cards are missing that the newest result does not speak of already."""
        newest = self.desk.newest
        known = newest is not None and bool(newest.gaps) and not self.desk.marks_changed
        return bool(self.desk.missing) and not known

    @property
    def can_compute_anew(self) -> bool:
        """Whether a result is to be computed that is no correction of a released one."""
        newest = self.desk.newest
        return newest is None or (self.desk.marks_changed and newest.released_at is None)


def page_context(
    show: Show, person: Person, roles: Collection[Role], typed: Typed
) -> dict[str, Any]:
    """Return what the page shows; the number of reads does not grow with the show."""
    desks = class_desks(show)
    newest = [desk.newest for desk in desks if desk.newest]
    parts = release_parts(show, newest, may_release=may(roles, Deed.RELEASE_RESULT))
    return {
        "show": show,
        "here": "results",
        "tables": [_table(desk, person, roles, parts, typed) for desk in desks],
        "may_compute": may(roles, Deed.SIGN_RESULT),
        "may_release": may(roles, Deed.RELEASE_RESULT),
        "sure_means": _(SURE_MEANS),
        "gaps_count": _(GAPS_COUNT),
        "odd_cents": _(ODD_CENTS),
    }


def _table(
    desk: ClassDesk,
    person: Person,
    roles: Collection[Role],
    parts: dict[int, ReleasePart],
    typed: Typed,
) -> Table:
    state, sign = _state(desk)
    card, result = desk.class_card, desk.newest
    placings = list(result.placings.all()) if result else []
    may_sign, may_release = may(roles, Deed.SIGN_RESULT), may(roles, Deed.RELEASE_RESULT)
    method = result.method if result else card.method if card else ""
    others = _others(method, placings)
    lines = _lines(desk, placings, method, others)
    return Table(
        desk=desk,
        state=state,
        sign=sign,
        method_name=method_name(method),
        out_of=out_of(method, result.possible_points) if result else "",
        judges=judge_words(card.judges_per_section) if card else "",
        ties=tie_words(card.tie_ladder if card else [], dict(desk.sections)),
        others=[(method_name(name), method_in_sentence(name)) for name in others],
        lines=lines,
        differing=sum(bool(line.differs) for line in lines),
        habits=_habits(desk, result) if result else [],
        refusals=[
            (method_name(name), sections_named(words, desk.sections))
            for name, words in (result.refusals if result else {}).items()
        ],
        sure=sure_part(desk, result, placings) if result else None,
        gaps=gaps_part(desk, result, placings) if result else None,
        purse=purse_part(placings, card.purse_cents if card else 0) if result else None,
        pictures=points_pictures(desk, [placing.entry for placing in placings]),
        short_hash=fingerprint(result.result_hash, SHORT_GROUPS) if result else "",
        full_hash=fingerprint(result.result_hash) if result else "",
        signed_by=[s.person.name for s in result.signatures.all()] if result else [],
        against_signing=against_signing(desk, result, person, may_sign=may_sign) if result else "",
        against_release=against_release(desk, result, may_release=may_release) if result else "",
        part=parts.get(result.pk) if result else None,
        typed=typed if typed.class_id == desk.show_class.pk else NOTHING_TYPED,
    )


def _state(desk: ClassDesk) -> tuple[str, str]:
    """Say where the class stands, and with which sign."""
    newest = desk.newest
    if newest is None:
        ready = desk.can_compute
        return (_("ready to compute"), "state-ask") if ready else (_("incomplete"), "state-wait")
    if desk.marks_changed:
        return _("marks changed after version {version}").format(
            version=newest.version
        ), "state-bad"
    gaps = ", " + _("cards missing") if newest.gaps else ""
    if newest.released_at:
        return _("version {version} released{gaps}").format(
            version=newest.version, gaps=gaps
        ), "state-good"
    hands = len(newest.signatures.all())
    word = _("signed") if hands >= HANDS_NEEDED else _("signed once") if hands else _("computed")
    sign = "state-ask" if hands >= HANDS_NEEDED else "state-wait"
    return _("version {version} {word}{gaps}").format(
        version=newest.version, word=word, gaps=gaps
    ), sign


def _by_method(placing: Placing) -> dict[str, dict[str, Any]]:
    """Return total and place by method; of results computed before, the two there were."""
    if placing.by_method:
        return dict(placing.by_method)
    kept = {
        "plain": (placing.plain_total, placing.plain_place),
        "judge_adjusted": (placing.adjusted_total, placing.adjusted_place),
    }
    return {
        name: {"total": str(total), "place": place}
        for name, (total, place) in kept.items()
        if total is not None and place is not None
    }


def _others(method: str, placings: Sequence[Placing]) -> list[str]:
    """Return the methods beside the declared one, in the house's order."""
    there = {name for placing in placings for name in _by_method(placing)}
    return [name for name in METHOD_NAMES if name in there and name != method]


def _lines(
    desk: ClassDesk, placings: Sequence[Placing], method: str, others: Sequence[str]
) -> list[PlacingLine]:
    sharing = Counter(placing.place for placing in placings)
    lines = []
    for placing in placings:
        found = _by_method(placing)
        places = {name: found[name]["place"] for name in others if name in found}
        lines.append(
            PlacingLine(
                placing=placing,
                shared=sharing[placing.place] > 1,
                by_section=[
                    (name, placing.by_section.get(code, "")) for code, name in desk.sections
                ],
                others=[
                    ByMethod(
                        method_name(name),
                        _(SHORT_NAMES[name]),
                        str(found.get(name, {}).get("total", "")),
                        str(found.get(name, {}).get("place", "")),
                    )
                    for name in others
                ],
                differs=differs_words({method: placing.place, **places}),
            )
        )
    return lines


def _habits(desk: ClassDesk, result: Result) -> list[JudgeHabits]:
    return [
        JudgeHabits(
            section=name,
            sentences=[
                habit_words(judge, effect)
                for judge, effect in sorted(result.judge_effects[code].items())
            ],
        )
        for code, name in desk.sections
        if result.judge_effects.get(code)
    ]


def _against_both(desk: ClassDesk, result: Result) -> str:
    """Say what stops signing and release alike."""
    if result.released_at:
        return _("It is released.")
    if desk.rigs_open:
        return _("A rig found at a wagon of this class waits to be adopted or declined first.")
    if desk.marks_changed:
        return _("Marks changed after this version was computed; compute it again first.")
    if result.gaps and not result.gaps_accepted_at:
        return _("Cards are missing; somebody who may release results accepts that first.")
    return ""


def against_signing(desk: ClassDesk, result: Result, person: Person, *, may_sign: bool) -> str:
    """Say why this person cannot sign now; empty when they can."""
    if not may_sign:
        return _("Your part in this show does not sign results.")
    common = _against_both(desk, result)
    if common:
        return common
    if desk.questions_open:
        n = desk.questions_open
        return ngettext(
            "{n} question waits for a judge's answer first.",
            "{n} questions wait for a judge's answer first.",
            n,
        ).format(n=n)
    if any(signature.person_id == person.pk for signature in result.signatures.all()):
        return _("You have signed; the second hand must be another person's.")
    return ""


def against_release(desk: ClassDesk, result: Result, *, may_release: bool) -> str:
    """Say why the result cannot be released now; empty when it can."""
    if not may_release:
        return _("Only the show office releases results.")
    common = _against_both(desk, result)
    if common:
        return common
    lacking = HANDS_NEEDED - len(result.signatures.all())
    if lacking > 0:
        return ngettext(
            "It needs {lacking} more signature.", "It needs {lacking} more signatures.", lacking
        ).format(lacking=lacking)
    return ""
