"""The gate: the list of wagons to arrive, and one wagon with all that is ticked off."""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from entries.actions.assign_spots import assign_spots
from entries.actions.check_in import change_note, note_papers, note_tick
from entries.actions.decide_entry import scratch_entry
from entries.models import Animal, Entry
from entries.queries.check_in import GateLine, gate_card, gate_of
from entries.queries.entries import entry_for
from entries.rules.gate import Tick, tick_words
from entries.rules.money_words import dollars
from showrun.errors import InvalidInput, NotFound, ShowError
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.shows.models import Person, Show
from showrun.shows.queries import allowed, demand, person_of, show_for
from showrun.shows.rules.access import Deed
from showrun.shows.web.number_sent import number_sent

REFRESH_S = 10
SHOWN = {"": N_("All"), "expected": N_("To come"), "here": N_("Here"), "scratched": N_("Scratched")}


def _is_shown(line: GateLine, which: str) -> bool:
    state = "scratched" if line.gone else "here" if line.arrived_at else "expected"
    return which in ("", state)


def _is_sought(line: GateLine, words: str) -> bool:
    """Whether a wagon answers to all the words: a number alone, or parts of its names."""
    entry = line.entry
    if words.isdecimal():
        return str(entry.number) == words.lstrip("0")
    names = f"{entry.wagon_name} {entry.outfit} {entry.exhibitor.name}".casefold()
    return all(word in names for word in words.casefold().split())


@never_cache
@require_safe
def gate(request: HttpRequest, slug: str) -> HttpResponse:
    """List the wagons to arrive; narrowed by a number, a name, or where they are."""
    show = show_for(request.user, slug, Deed.CHECK_IN)
    words, which = request.GET.get("q", "").strip()[:80], request.GET.get("which", "")
    which = which if which in SHOWN else ""
    found = gate_of(show)
    lines = [one for one in found.lines if _is_shown(one, which) and _is_sought(one, words)]
    counts = [len(found.lines), found.expected, found.arrived, found.scratched]
    context = {
        "show": show,
        "here": "check-in",
        "gate": found,
        "lines": lines,
        "q": words,
        "which": which,
        "tabs": [
            (value, name, count) for (value, name), count in zip(SHOWN.items(), counts, strict=True)
        ],
        "refresh_s": REFRESH_S,
        "at": timezone.now(),
    }
    return render(request, "entries/check_in.html", context)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def gate_wagon(request: HttpRequest, slug: str, entry_id: int) -> HttpResponse:
    """Show one wagon at the gate; take a tick, a note, another spot, or that it is scratched."""
    entry = entry_for(request.user, entry_id, Deed.CHECK_IN)
    show = entry.show
    if show.slug != slug:
        raise NotFound()
    if request.method != "POST":
        may_scratch = allowed(request.user, Deed.RUN_ENTRIES, show)
        return render(request, "entries/check_in_wagon.html", _card(show, entry, may_scratch))
    if request.POST.get("do") == "scratch":
        demand(request.user, Deed.RUN_ENTRIES, show)
    try:
        messages.success(request, _take(request, entry, person_of(request.user)))
    except ShowError as fault:
        messages.error(request, f"{entry.called}: {fault.detail}")
    return redirect(_back(request, entry))


def _card(show: Show, entry: Entry, may_scratch: bool) -> dict[str, object]:
    card = gate_card(entry)
    return {
        "show": show,
        "here": "check-in",
        "entry": entry,
        "card": card,
        "owed": dollars(card.line.owes_cents),
        "may_scratch": may_scratch,
        "refresh_s": REFRESH_S,
        "at": timezone.now(),
    }


def _back(request: HttpRequest, entry: Entry) -> str:
    """Return to the list where the list was tapped, as it was narrowed; else to the wagon."""
    if request.POST.get("from") != "list":
        return reverse("entries:check-in-wagon", args=[entry.show.slug, entry.pk])
    kept = {name: request.POST.get(name, "")[:80] for name in ("q", "which")}
    query = urlencode({name: value for name, value in kept.items() if value})
    address = reverse("entries:check-in", args=[entry.show.slug])
    return f"{address}{f'?{query}' if query else ''}#entry-{entry.pk}"


def _take(request: HttpRequest, entry: Entry, by: Person) -> str:
    does: dict[str, Callable[[HttpRequest, Entry, Person], str]] = {
        "tick": _tick,
        "papers": _papers,
        "note": _note,
        "spot": _spot,
        "scratch": _scratch,
    }
    done = does.get(request.POST.get("do", ""))
    if done is None:
        raise InvalidInput(_("Choose what is ticked off."))
    return done(request, entry, by)


def _tick(request: HttpRequest, entry: Entry, by: Person) -> str:
    what, done = request.POST.get("tick", ""), request.POST.get("undo") != "yes"
    if what not in set(Tick):
        raise InvalidInput(_("Choose what is ticked off."))
    tick = Tick(what)
    note_tick(entry=entry, tick=tick, done=done, by=by, at=timezone.now())
    return (
        _("{entry}: {tick}.").format(entry=entry.called, tick=tick_words(tick))
        if done
        else _("{entry}: not {tick}.").format(entry=entry.called, tick=tick_words(tick))
    )


def _papers(request: HttpRequest, entry: Entry, by: Person) -> str:
    wanted, seen = request.POST.get("animal", ""), request.POST.get("undo") != "yes"
    number = number_sent(wanted)
    animal = Animal.objects.select_related("entry__show").filter(entry=entry, pk=number).first()
    if animal is None:
        raise InvalidInput(_("This animal is not on the wagon's list any more."))
    note_papers(animal=animal, seen=seen, by=by, at=timezone.now())
    return f"Papers of {animal.name}: {'seen' if seen else 'not seen'}."


def _note(request: HttpRequest, entry: Entry, by: Person) -> str:
    change_note(entry=entry, note=request.POST.get("note", ""), by=by, at=timezone.now())
    return _("{entry}: the note is kept.").format(entry=entry.called)


def _spot(request: HttpRequest, entry: Entry, by: Person) -> str:
    typed = request.POST.get("spot", "").strip()
    number = number_sent(typed) or None
    if typed and number is None:
        raise InvalidInput(_("Choose a free spot."))
    wanted = {entry.pk: number}
    assign_spots(show=entry.show, wanted=wanted, by=by, at=timezone.now())
    return (
        _("{entry} camps on spot {number}.").format(entry=entry.called, number=number)
        if number
        else _("{entry} has no camp spot now.").format(entry=entry.called)
    )


def _scratch(request: HttpRequest, entry: Entry, by: Person) -> str:
    reason = request.POST.get("reason", "").strip()
    scratch_entry(entry=entry, by=by, at=timezone.now(), reason=reason)
    return _("{entry} is scratched. Judges' phones say so at their next contact.").format(
        entry=entry.called
    )
