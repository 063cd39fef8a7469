"""What is read of shows and people."""

from __future__ import annotations

from collections.abc import Collection

from django.contrib.auth.models import AnonymousUser

from showrun.errors import NotAllowed, NotFound
from showrun.language import gettext as _
from showrun.shows.models import Person, RoleHeld, Show, ShowClass
from showrun.shows.rules.access import OWNER_DEEDS, Deed, Role, may
from showrun.shows.rules.planning import may_plan

Visitor = Person | AnonymousUser


def show_by_slug(slug: str) -> Show:
    """Return the show, or say there is none."""
    show = Show.objects.filter(slug=slug).first()
    if show is None:
        raise NotFound(_("There is no show at this address."))
    return show


def person_of(visitor: Visitor) -> Person:
    """Return who is signed in; doors ask after they demanded the deed."""
    if not isinstance(visitor, Person):
        raise NotAllowed(_("Sign in first."), code="not-signed-in")
    return visitor


def roles_of(person: Visitor, show: Show) -> frozenset[Role]:
    """Return the roles the person holds in this show."""
    if not isinstance(person, Person):
        return frozenset()
    held = RoleHeld.objects.filter(show=show, person=person).values_list("role", flat=True)
    return frozenset(Role(role) for role in held)


def allowed(person: Visitor, deed: Deed, show: Show, *, owner: bool = False) -> bool:
    """Say whether the person may do the deed in this show."""
    return may(roles_of(person, show), deed, owner=owner)


def demand(person: Visitor, deed: Deed, show: Show, *, owner: bool = False) -> frozenset[Role]:
    """Let the deed pass and return the person's roles, or refuse it and tell no more than needed.

    People of the show are told that it is not theirs to do (403); strangers are told that
    there is nothing (404), and so is everybody about what belongs to somebody else.
    """
    roles = roles_of(person, show)
    if may(roles, deed, owner=owner):
        return roles
    knows_of_it = deed not in OWNER_DEEDS or may(roles, Deed.SEE_OFFICE)
    if owner or (roles and knows_of_it):
        raise NotAllowed(
            _("Your part in this show does not let you {deed}.").format(deed=_(deed.value))
        )
    raise NotFound()


def show_for(person: Visitor, slug: str, deed: Deed) -> Show:
    """Return a show, if the person may do this in it; refuse it as `demand` does."""
    show = show_by_slug(slug)
    demand(person, deed, show)
    return show


def class_for(person: Visitor, class_id: int, deed: Deed) -> ShowClass:
    """Return a class, if the person may do this with it; refuse it as `demand` does."""
    found = ShowClass.objects.select_related("show").filter(pk=class_id).first()
    if found is None:
        raise NotFound()
    demand(person, deed, found.show)
    return found


def shows_with_office(person: Visitor) -> list[Show]:
    """Return the shows whose office the person may enter, newest first."""
    if not isinstance(person, Person):
        return []
    roles = [r.value for r in Role if may([r], Deed.SEE_OFFICE)]
    return list(Show.objects.filter(roles__person=person, roles__role__in=roles).distinct())


def holders_of(show: Show) -> dict[Role, list[Person]]:
    """Return who holds which role in the show, by name; a role nobody holds has an empty list."""
    found: dict[Role, list[Person]] = {role: [] for role in Role}
    held = RoleHeld.objects.filter(show=show).select_related("person")
    for line in held.order_by("person__name", "person__email"):
        found[Role(line.role)].append(line.person)
    return found


def may_plan_shows(person: Visitor, *, named: Collection[str]) -> bool:
    """Say whether somebody may plan a show; `named` are the addresses the service names."""
    if not isinstance(person, Person):
        return False
    held = RoleHeld.objects.filter(person=person).values_list("role", flat=True)
    runs = any(may([Role(role)], Deed.RUN_PEOPLE) for role in held)
    return may_plan(person.email, runs_an_office=runs, named=named)
