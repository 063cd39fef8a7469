"""The office's page of people: who has which part in the show, to give and to take back."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from showrun.errors import Conflict, InvalidInput
from showrun.language import gettext as _
from showrun.shows.actions.change_roles import LONGEST_REASON, hand_out_role, take_role_back
from showrun.shows.models import Person, Show
from showrun.shows.queries import holders_of, person_of, show_for
from showrun.shows.rules.access import Deed, Role
from showrun.shows.rules.giving import GIVEN, NAMES, what_it_lets, why_not_take
from showrun.shows.web.number_sent import number_sent


@dataclass(frozen=True)
class Held:
    """A role on the page: what it lets people do, who holds it, and why none is taken back."""

    role: Role
    name: str
    lets: str
    people: list[Person]
    kept: str


@dataclass
class Typed:
    """A form that was refused: what was typed, and what is wrong with it."""

    values: dict[str, str]
    faults: dict[str, str]
    status: int = 422
    refused: str = ""

    @property
    def fault_list(self) -> list[tuple[str, str]]:
        """Every fault as (id of the field, sentence); a reason stands at its person."""
        whose = f"why-{self.values.get('role')}-{self.values.get('person')}"
        return [
            (whose if name == "reason" else f"give-{name}", words)
            for name, words in self.faults.items()
        ]


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def people(request: HttpRequest, slug: str) -> HttpResponse:
    """Show who holds which role; give one, or take one back."""
    show = show_for(request.user, slug, Deed.RUN_PEOPLE)
    typed = Typed({}, {}, 200)
    if request.method == "POST":
        try:
            messages.success(request, _change(request, show))
            return redirect("shows:people", slug)
        except (Conflict, InvalidInput) as fault:
            sent = {name: str(value) for name, value in request.POST.items()}
            typed = Typed(sent, fault.fields, fault.status, fault.detail)
    holders = holders_of(show)
    context = {
        "show": show,
        "here": "people",
        "held": [_held(role, holders[role]) for role in GIVEN],
        "others": [_held(role, holders[role]) for role in Role if role not in GIVEN],
        "typed": typed.values,
        "faults": typed.faults,
        "refused": typed.refused,
        "fault_list": typed.fault_list,
        "longest_reason": LONGEST_REASON,
    }
    return render(request, "shows/people.html", context, status=typed.status)


def _held(role: Role, there: list[Person]) -> Held:
    kept = why_not_take(role, holders=len(there)) if there else ""
    return Held(role, NAMES[role], what_it_lets(role), there, kept)


def _change(request: HttpRequest, show: Show) -> str:
    by, at, sent = person_of(request.user), timezone.now(), request.POST
    role = _role(sent.get("role", ""))
    if sent.get("do") == "give":
        person = hand_out_role(
            show=show, email=sent.get("email", ""), name=sent.get("name", ""), role=role, by=by,
            at=at,
        )  # fmt: skip
        return f"{person.name} is {NAMES[role]} of this show now, and signs in with {person.email}."
    if sent.get("do") == "take":
        person = take_role_back(
            show=show, person_id=number_sent(sent.get("person")), role=role,
            reason=sent.get("reason", ""), by=by, at=at,
        )  # fmt: skip
        return f"{person.name} is not {NAMES[role]} of this show any more."
    raise InvalidInput(_("Choose to give a role or to take one back."))


def _role(sent: str) -> Role:
    if sent not in set(Role):
        raise InvalidInput(
            _("Choose a role."), fields={"role": _("One of the roles below, please.")}
        )
    return Role(sent)
