"""Give people parts in a show, and take them back with a reason."""

from __future__ import annotations

from datetime import datetime

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import transaction

from showrun.errors import Conflict, InvalidInput
from showrun.language import gettext as _
from showrun.shows.actions.plan_show import person_for
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, RoleHeld, Show
from showrun.shows.queries import roles_of
from showrun.shows.rules.access import Role
from showrun.shows.rules.giving import NAMES, why_not_give, why_not_take

LONGEST_REASON = 200


@transaction.atomic
def hand_out_role(
    *, show: Show, email: str, name: str, role: Role, by: Person, at: datetime
) -> Person:
    """Give the person with this e-mail a role; whoever is new here is made with that name."""
    Show.objects.select_for_update().values_list("pk").get(pk=show.pk)
    person = _person(email.strip(), name.strip())
    holder = RoleHeld.objects.filter(show=show, role=Role.KEY_HOLDER.value).first()
    against = why_not_give(
        role,
        held=roles_of(person, show),
        key_holder=holder.person.name if holder else "",
        name=person.name,
    )
    if against:
        raise Conflict(against, code="role-refused")
    RoleHeld.objects.create(show=show, person=person, role=role.value)
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="gave a role",
        subject=f"{NAMES[role]}: {person.name}",
        after={"role": role.value, "email": person.email},
    )
    return person


def _person(email: str, name: str) -> Person:
    """Return who has the e-mail; the name counts only for somebody new."""
    try:
        validate_email(email)
    except ValidationError as fault:
        raise InvalidInput(
            _("That is not a whole e-mail address."),
            fields={"email": _("A whole e-mail address, such as cook@example.org.")},
        ) from fault
    found = Person.objects.filter(email__iexact=email).first()
    if found is not None:
        return found
    longest = Person._meta.get_field("name").max_length or 0
    if not name or len(name) > longest:
        raise InvalidInput(
            _("Nobody here has that e-mail yet; say the person's name."),
            fields={
                "name": _("A name of up to {longest} letters, please.").format(longest=longest)
            },
        )
    return person_for(email=email, name=name)


@transaction.atomic
def take_role_back(
    *, show: Show, person_id: int, role: Role, reason: str, by: Person, at: datetime
) -> Person:
    """Take a role back; a show is never left without an office."""
    Show.objects.select_for_update().values_list("pk").get(pk=show.pk)
    here = RoleHeld.objects.filter(show=show, role=role.value).select_related("person")
    held = here.filter(person=person_id).first()
    if held is None:
        raise Conflict(_("That role was taken back already, or was never given."))
    against = why_not_take(role, holders=here.count())
    if against:
        raise Conflict(against, code="role-refused")
    why = reason.strip()
    if not why or len(why) > LONGEST_REASON:
        raise InvalidInput(
            _("Say why the role is taken back."),
            fields={
                "reason": _("A reason of up to {most} letters, please.").format(most=LONGEST_REASON)
            },
        )
    held.delete()
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="took a role back",
        subject=f"{NAMES[role]}: {held.person.name}",
        before={"role": role.value, "email": held.person.email},
        reason=why,
    )
    return held.person
