"""The office's results: what is missing, both methods side by side, two hands, release."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection
from dataclasses import dataclass, field

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from judging.actions.publish_result import (
    HANDS_NEEDED,
    compute_result,
    release_result,
    sign_result,
)
from judging.models import Placing, Result
from judging.queries.result_desk import ClassDesk, class_desks
from judging.queries.results import latest_result, open_questions
from judging.web.public import judge_words, tie_words
from showrun.errors import Conflict, InvalidInput, NotFound, NotYet
from showrun.shows.models import Person, Show, ShowClass
from showrun.shows.queries import demand, roles_of, show_by_slug
from showrun.shows.rules.access import Deed, Role, may

METHOD_NAMES = {"plain": "Plain total", "judge_adjusted": "Judge-adjusted total"}
NOTHING_HERE = "There is nothing at this address for you."
# Differences below this are rounding of the estimate, not a habit.
EVEN = 0.05


@dataclass(frozen=True)
class PlacingLine:
    """One wagon by both methods."""

    placing: Placing
    shared: bool
    by_section: list[tuple[str, str]]
    differs: str


@dataclass(frozen=True)
class JudgeHabits:
    """How strict the judges of one section were, in sentences."""

    section: str
    sentences: list[str]


@dataclass(frozen=True)
class Typed:
    """A correction that was refused: the reason typed, and what is wrong with it."""

    class_id: int = 0
    reason: str = ""
    faults: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Table:
    """A class on the page."""

    desk: ClassDesk
    state: str
    sign: str
    method: str
    method_name: str
    judges: str
    ties: str
    lines: list[PlacingLine]
    differing: int
    habits: list[JudgeHabits]
    refusals: list[tuple[str, str]]
    signed_by: list[str]
    against_signing: str
    against_release: str
    typed: Typed


def _state(desk: ClassDesk) -> tuple[str, str]:
    """Say where the class stands, and with which sign."""
    newest = desk.newest
    if newest is None:
        ready = desk.can_compute
        return ("ready to compute", "state-ask") if ready else ("incomplete", "state-wait")
    if desk.marks_changed:
        return f"marks changed after version {newest.version}", "state-bad"
    if newest.released_at:
        return f"version {newest.version} released", "state-good"
    hands = len(newest.signatures.all())
    word = "signed" if hands >= HANDS_NEEDED else "signed once" if hands else "computed"
    sign = "state-ask" if hands >= HANDS_NEEDED else "state-wait"
    return f"version {newest.version} {word}", sign


def _differs(placing: Placing) -> str:
    """Point out in words where the two methods give different places."""
    plain, adjusted = placing.plain_place, placing.adjusted_place
    if plain is None or adjusted is None or plain == adjusted:
        return ""
    return f"Plain total gives place {plain}, judge-adjusted place {adjusted}."


def _lines(desk: ClassDesk, placings: list[Placing]) -> list[PlacingLine]:
    sharing = Counter(placing.place for placing in placings)
    return [
        PlacingLine(
            placing=placing,
            shared=sharing[placing.place] > 1,
            by_section=[(name, placing.by_section.get(code, "")) for code, name in desk.sections],
            differs=_differs(placing),
        )
        for placing in placings
    ]


def habit_words(judge: str, effect: float) -> str:
    """Say how a judge's section points lie to the panel's average."""
    if abs(effect) < EVEN:
        return f"{judge} marks like the panel's average."
    where = "higher" if effect > 0 else "lower"
    return f"{judge} marks {abs(effect):.1f} points {where} than the panel's average."


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
        return "It is released."
    if desk.rigs_open:
        return "A rig found at a wagon of this class waits to be adopted or declined first."
    if desk.marks_changed:
        return "Marks changed after this version was computed; compute it again first."
    return ""


def against_signing(desk: ClassDesk, result: Result, person: Person, *, may_sign: bool) -> str:
    """Say why this person cannot sign now; empty when they can."""
    if not may_sign:
        return "Your part in this show does not sign results."
    common = _against_both(desk, result)
    if common:
        return common
    if desk.questions_open:
        n = desk.questions_open
        return f"{n} question{'s wait' if n > 1 else ' waits'} for a judge's answer first."
    if any(signature.person_id == person.pk for signature in result.signatures.all()):
        return "You have signed; the second hand must be another person's."
    return ""


def against_release(desk: ClassDesk, result: Result, *, may_release: bool) -> str:
    """Say why the result cannot be released now; empty when it can."""
    if not may_release:
        return "Only the show office releases results."
    common = _against_both(desk, result)
    if common:
        return common
    lacking = HANDS_NEEDED - len(result.signatures.all())
    if lacking > 0:
        return f"It needs {lacking} more signature{'s' if lacking > 1 else ''}."
    return ""


def _table(desk: ClassDesk, person: Person, roles: Collection[Role], typed: Typed) -> Table:
    state, sign = _state(desk)
    card, result = desk.class_card, desk.newest
    ladder = card.tie_ladder if card else []
    lines = _lines(desk, list(result.placings.all())) if result else []
    may_sign, may_release = may(roles, Deed.SIGN_RESULT), may(roles, Deed.RELEASE_RESULT)
    method = result.method if result else card.method if card else ""
    return Table(
        desk=desk,
        state=state,
        sign=sign,
        method=method,
        method_name=METHOD_NAMES.get(method, ""),
        judges=judge_words(card.judges_per_section) if card else "",
        ties=tie_words(ladder, dict(desk.sections)),
        lines=lines,
        differing=sum(bool(line.differs) for line in lines),
        habits=_habits(desk, result) if result else [],
        refusals=[
            (METHOD_NAMES.get(name, name), words)
            for name, words in (result.refusals if result else {}).items()
        ],
        signed_by=[s.person.name for s in result.signatures.all()] if result else [],
        against_signing=against_signing(desk, result, person, may_sign=may_sign) if result else "",
        against_release=against_release(desk, result, may_release=may_release) if result else "",
        typed=typed if typed.class_id == desk.show_class.pk else Typed(),
    )


def _page(
    request: HttpRequest, show: Show, *, typed: Typed = Typed(), status: int = 200
) -> HttpResponse:
    person = _actor(request)
    roles = roles_of(person, show)
    context = {
        "show": show,
        "here": "results",
        "tables": [_table(desk, person, roles, typed) for desk in class_desks(show)],
        "may_compute": may(roles, Deed.SIGN_RESULT),
        "hands_needed": HANDS_NEEDED,
    }
    return render(request, "judging/office_results.html", context, status=status)


def _actor(request: HttpRequest) -> Person:
    assert isinstance(request.user, Person)
    return request.user


@never_cache
@require_safe
def office_results(request: HttpRequest, slug: str) -> HttpResponse:
    """Show every class: what it waits for, its totals by both methods, its signatures."""
    show = show_by_slug(slug)
    demand(request.user, Deed.SEE_RESULTS, show)
    return _page(request, show)


def _back(show_class: ShowClass) -> HttpResponse:
    address = reverse("judging:office-results", args=[show_class.show.slug])
    return redirect(f"{address}#class-{show_class.pk}")


@require_POST
def compute(request: HttpRequest, class_id: int) -> HttpResponse:
    """Compute a class's result, or the next version of it with its reason."""
    show_class = ShowClass.objects.select_related("show").filter(pk=class_id).first()
    if show_class is None:
        raise NotFound(NOTHING_HERE)
    demand(request.user, Deed.SIGN_RESULT, show_class.show)
    before = latest_result(show_class)
    reason = request.POST.get("reason", "")
    try:
        result = compute_result(
            show_class=show_class, by=_actor(request), at=timezone.now(), reason=reason
        )
    except InvalidInput as fault:
        typed = Typed(show_class.pk, reason, fault.fields)
        return _page(request, show_class.show, typed=typed, status=fault.status)
    except (NotYet, Conflict) as fault:
        messages.error(request, fault.detail)
        return _back(show_class)
    if before is not None and before.pk == result.pk:
        messages.info(
            request,
            f"{show_class.name}: no mark has changed, so version {result.version} stands.",
        )
    else:
        messages.success(request, f"{show_class.name}: version {result.version} computed.")
    waiting = open_questions(show_class)
    if waiting:
        several = "s wait" if waiting > 1 else " waits"
        messages.warning(request, f"{waiting} question{several} for a judge before signing.")
    return _back(show_class)


def _result_for(request: HttpRequest, result_id: int, deed: Deed) -> Result:
    results = Result.objects.select_related("show_class__show")
    result = results.filter(pk=result_id).first()
    if result is None:
        raise NotFound(NOTHING_HERE)
    demand(request.user, deed, result.show_class.show)
    return result


def _tried(request: HttpRequest, result: Result, deed: Callable[[], str]) -> HttpResponse:
    """Do it and say so, or say why not; then back to the class."""
    try:
        messages.success(request, deed())
    except (NotYet, Conflict) as fault:
        messages.error(request, f"{result.show_class.name}: {fault.detail}")
    return _back(result.show_class)


@require_POST
def sign(request: HttpRequest, result_id: int) -> HttpResponse:
    """Put one's hand under a result."""
    result = _result_for(request, result_id, Deed.SIGN_RESULT)
    by = _actor(request)

    def signed() -> str:
        done = sign_result(result=result, by=by, at=timezone.now())
        lacking = HANDS_NEEDED - done.signatures.count()
        then = "It can be released." if lacking <= 0 else "Another person signs next."
        return f"{done}: signed. {then}"

    return _tried(request, result, signed)


@require_POST
def release(request: HttpRequest, result_id: int) -> HttpResponse:
    """Make a signed result public."""
    result = _result_for(request, result_id, Deed.RELEASE_RESULT)
    by = _actor(request)

    def released() -> str:
        done = release_result(result=result, by=by, at=timezone.now())
        return f"{done}: released. Everybody may read it now."

    return _tried(request, result, released)
