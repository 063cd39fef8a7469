"""Paper cards in the office: the list of them, and the page on which one is keyed."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from entries.models import Entry
from judging.actions.key_card import (
    Choice,
    Taken,
    issue_cards,
    key_card,
    look_at,
    start_over,
    take_card,
)
from judging.models import Judge
from judging.queries.cards import card_of
from judging.queries.keyings import CardLine, KeyedCard, card_lines, keyed_card, sheet_of
from judging.rules.round.keying import State
from judging.rules.round.paper_number import NumberRefused, card_number, read_card_number
from judging.web.keying_form import choices_of, differences, keying_form, lines_of
from showrun.errors import Conflict, InvalidInput, NotFound, ShowError
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.language import ngettext
from showrun.shows.models import Person, Show
from showrun.shows.queries import allowed, demand, person_of, show_by_slug
from showrun.shows.rules.access import Deed
from showrun.shows.web.number_sent import number_sent
from showrun.shows.web.way_back import signed_in

LOOKS = {
    State.NOT_KEYED: "state",
    State.ONCE: "state state-wait",
    State.DIFFER: "state state-bad",
    State.AGREED: "state state-ask",
    State.TAKEN: "state state-good",
}
# What waits for somebody comes first.
ORDER = (State.DIFFER, State.AGREED, State.ONCE, State.NOT_KEYED, State.TAKEN)


# --- The list ---------------------------------------------------------------------------------


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def paper_cards(request: HttpRequest, slug: str) -> HttpResponse:
    """List the cards by how far they are; go to one by its number, or take all that agree."""
    show = show_by_slug(slug)
    if request.method == "POST":
        demand(request.user, Deed.SETTLE, show)
        try:
            return _listed(request, show)
        except (Conflict, InvalidInput) as fault:
            messages.error(request, fault.detail)
            return redirect("judging:paper-cards", slug)
    demand(request.user, Deed.SEE_OFFICE, show)
    typed = request.GET.get("number", "").strip()[:40]
    no_card = ""
    if typed:
        try:
            number = card_number(read_card_number(typed))
            if keyed_card(number).card.judge.show_id != show.pk:
                raise NotFound(_("This show has no card with this number."))
            return redirect("judging:paper-card", number)
        except (NumberRefused, NotFound) as refused:
            no_card = str(refused)
    lines = card_lines(show)
    groups = [
        (state, LOOKS[state], [line for line in lines if line.state is state]) for state in ORDER
    ]
    context = {
        "show": show,
        "here": "paper-cards",
        "groups": [group for group in groups if group[2]],
        "agreed": sum(_may_be_taken(line) for line in lines),
        "typed": typed,
        "fault": no_card,
        "scorecard": card_of(show),
        "may_key": allowed(request.user, Deed.SETTLE, show),
        "may_print": allowed(request.user, Deed.MAKE_PAPERS, show),
    }
    return render(request, "judging/keying_list.html", context, status=404 if no_card else 200)


def _may_be_taken(line: CardLine) -> bool:
    return line.state is State.AGREED and not line.outdated


def _listed(request: HttpRequest, show: Show) -> HttpResponse:
    by, at = person_of(request.user), timezone.now()
    if request.POST.get("do") == "take-all":
        wanted = [line.keyed for line in card_lines(show) if _may_be_taken(line)]
        for there in wanted:
            if there is not None:
                _tell(request, there, take_card(card=there.card, by=by, at=at))
        if not wanted:
            messages.error(request, _("No card waits to be taken."))
        return redirect("judging:paper-cards", show.slug)
    judge_id, entry_id = (number_sent(request.POST.get(name)) for name in ("judge", "entry"))
    judge = Judge.objects.filter(show=show, pk=judge_id).select_related("person").first()
    entry = Entry.objects.filter(show=show, pk=entry_id).first()
    if judge is None or entry is None:
        raise NotFound(_("This show has no such card."))
    (card,) = issue_cards(judge=judge, entries=[entry], at=at)
    return redirect("judging:paper-card", card.number)


# --- One card ---------------------------------------------------------------------------------


@never_cache
@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def paper_card(request: HttpRequest, card_number: int) -> HttpResponse:
    """Key a card, look at what differs, or take it; the second to key never sees the first's."""
    try:
        there = keyed_card(str(card_number))
    except NotFound as unknown:
        # Whoever runs an office may learn that a digit is wrong; nobody else learns anything.
        raise NotFound() from unknown
    show = there.card.judge.show
    demand(request.user, Deed.SETTLE, show)
    if request.method != "POST":
        return _page(request, there)
    posted = request.POST.dict()
    try:
        _do(request, there, posted, person_of(request.user), timezone.now())
    except InvalidInput as fault:
        return _page(request, there, posted=posted, fault=fault)
    except Conflict as fault:
        messages.error(request, fault.detail)
        if posted.get("do") == "key":
            # What was typed is not lost by a refusal either.
            return _page(request, keyed_card(str(card_number)), posted=posted, fault=fault)
    return redirect("judging:paper-card", there.card.number)


def _do(
    request: HttpRequest, there: KeyedCard, posted: Mapping[str, str], by: Person, at: datetime
) -> None:
    card, deed = there.card, posted.get("do")
    if deed == "key":
        now = key_card(card=card, typed=posted, by=by, at=at)
        messages.success(request, _(_KEYED[now.state]))
    elif deed == "look":
        look_at(card=card, choices=_choices(there, posted), by=by, at=at)
        messages.success(request, _("Settled. The card can be taken now."))
    elif deed == "take":
        _tell(request, there, take_card(card=card, by=by, at=at))
    elif deed == "over":
        start_over(card=card, reason=posted.get("reason", ""), by=by, at=at)
        messages.success(request, _("Started over: two people key the card anew."))
    else:
        raise Conflict(_("Choose what to do with the card."))


_KEYED = {
    State.ONCE: N_("Kept. Another person keys the card a second time now."),
    State.AGREED: N_("Both keyings agree. The card can be taken now."),
    State.DIFFER: N_("The two keyings differ. A third look at the paper settles it."),
}


def _choices(there: KeyedCard, posted: Mapping[str, str]) -> dict[str, Choice]:
    return choices_of(posted, there.differing)


def _tell(request: HttpRequest, there: KeyedCard, taken: Taken) -> None:
    """Say what became of a card's values."""
    card = _("{judge} at wagon {entry}").format(
        judge=there.card.judge, entry=there.card.entry.called
    )
    said = _("{card}: taken.").format(card=card)
    if taken.handed_in:
        said += " " + _("The card is handed in.")
    elif taken.lacking:
        said += " " + ngettext(
            "It is not handed in: {n} row has no mark.",
            "It is not handed in: {n} rows have no mark.",
            taken.lacking,
        ).format(n=taken.lacking)
    elif not taken.signed:
        said += " " + _("It is not handed in: the judge did not sign it.")
    if taken.held:
        said += " " + ngettext(
            "{n} value waits under held events: something else stands there.",
            "{n} values wait under held events: something else stands there.",
            taken.held,
        ).format(n=taken.held)
    messages.add_message(request, messages.WARNING if taken.held else messages.SUCCESS, said)


def _page(
    request: HttpRequest,
    there: KeyedCard,
    *,
    posted: Mapping[str, str] | None = None,
    fault: ShowError | None = None,
) -> HttpResponse:
    card, state = there.card, there.state
    typed, faults = posted or {}, fault.fields if fault else {}
    context = {
        "show": card.judge.show,
        "here": "paper-cards",
        "card": card,
        "there": there,
        "state": state,
        "look": LOOKS[state],
        "refused": fault.detail if fault else "",
        "reason": typed.get("reason", ""),
        "reason_fault": faults.get("reason", ""),
        "outdated": not card.scorecard.in_use,
    }
    try:
        sheet = sheet_of(card)
    except Conflict as gone:
        context["gone"] = gone.detail
        return render(request, "judging/keying_card.html", context, status=_status(fault))
    person = person_of(request.user)
    open_to_key = state in (State.NOT_KEYED, State.ONCE) and not context["outdated"]
    if open_to_key and not there.is_keyed_by(person):
        context["form"] = keying_form(sheet, typed, faults)
        context["turn"] = "second" if there.keyings else "first"
    elif posted and posted.get("do") == "key":
        context["form"] = keying_form(sheet, typed, faults)
        context["too_late"] = True
    if state is State.DIFFER:
        choices = _choices(there, typed)
        context["differences"] = differences(there, sheet, choices, faults)
    if state in (State.AGREED, State.TAKEN) and there.agreed is not None:
        context["lines"] = lines_of(sheet, there.agreed)
    return render(request, "judging/keying_card.html", context, status=_status(fault))


def _status(fault: ShowError | None) -> int:
    return fault.status if fault else 200
