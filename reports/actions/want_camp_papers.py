"""Ask for camp signs or number plates of all confirmed wagons; a worker draws them."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from entries.queries.camp import confirmed_entries
from reports.actions.print_anew import print_of_show
from reports.models import Paper
from reports.queries.camp_papers import CAMP_KINDS
from showrun.errors import NotYet
from showrun.language import gettext as _
from showrun.language import in_english
from showrun.shows.models import Person, Show


@transaction.atomic
def want_camp_papers(*, show: Show, kind: Paper.Kind, by: Person | None, at: datetime) -> Paper:
    """Want a new printing of the kind; while the last one waits to be drawn it is that one."""
    if kind not in CAMP_KINDS:
        raise ValueError(f"{kind} is no paper of the camp")
    Show.objects.select_for_update().values_list("pk").get(pk=show.pk)
    if not confirmed_entries(show).exists():
        raise NotYet(
            _("No wagon is confirmed yet; signs and plates are printed for confirmed ones.")
        )
    with in_english():
        subject = f"the {Paper.Kind(kind).label}"
    return print_of_show(show=show, kind=kind, subject=subject, by=by, at=at)
