"""Set up a show with its classes and the people who run it."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from django.db import IntegrityError, transaction

from showrun.errors import Conflict, InvalidInput
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, RoleHeld, Show, ShowClass
from showrun.shows.rules.access import Role
from showrun.shows.rules.planning import fault_of_days


def person_for(*, email: str, name: str) -> Person:
    """Return the person with this e-mail, made if new."""
    found = Person.objects.filter(email__iexact=email).first()
    if found is not None:
        return found
    try:
        with transaction.atomic():
            return Person.objects.create_user(email=email, name=name)
    except IntegrityError:  # made by another request this moment
        return Person.objects.get(email__iexact=email)


def give_role(*, show: Show, person: Person, role: Role) -> None:
    """Let the person play this part in the show."""
    RoleHeld.objects.get_or_create(show=show, person=person, role=role.value)


@transaction.atomic
def plan_show(
    *,
    slug: str,
    name: str,
    ground: str,
    starts_on: date,
    ends_on: date,
    judging_starts_at: datetime,
    judging_minutes: int,
    zone: str,
    entry_cap: int,
    classes: list[dict[str, Any]],
    office: Person,
    at: datetime,
    **more: Any,
) -> Show:
    """Make the show and its classes; its first office member is `office`."""
    try:
        ZoneInfo(zone)
    except (ZoneInfoNotFoundError, ValueError) as fault:
        raise InvalidInput(
            _("There is no time zone “{zone}”.").format(zone=zone),
            fields={"zone": _("Choose a time zone.")},
        ) from fault
    judged_on = judging_starts_at.astimezone(ZoneInfo(zone)).date()
    if faults := fault_of_days(starts_on, ends_on, judged_on):
        raise InvalidInput(" ".join(faults.values()), fields=faults)
    taken = Conflict(_("There is a show at “{slug}” already.").format(slug=slug))
    if Show.objects.filter(slug=slug).exists():
        raise taken
    show = Show(
        slug=slug,
        name=name,
        ground=ground,
        starts_on=starts_on,
        ends_on=ends_on,
        judging_starts_at=judging_starts_at,
        judging_minutes=judging_minutes,
        zone=zone,
        entry_cap=entry_cap,
        **more,
    )
    try:
        with transaction.atomic():
            show.save(force_insert=True)
    except IntegrityError as fault:
        if not Show.objects.filter(slug=slug).exists():
            raise
        raise taken from fault  # planned by another request this moment
    for position, line in enumerate(classes):
        ShowClass.objects.create(show=show, position=position, **line)
    give_role(show=show, person=office, role=Role.OFFICE)
    record_change(
        show=show, actor=office, at=at, verb="planned", subject=f"show {name}", after={"slug": slug}
    )
    return show
