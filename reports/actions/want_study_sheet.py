"""Ask for the study sheet of the parts that the card in use looks at; a worker draws it."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from judging.queries.cards import demand_card
from judging.queries.handbook_parts import parts_of
from reports.actions.print_anew import print_of_show
from reports.models import Paper
from showrun.errors import NotYet
from showrun.language import gettext as _
from showrun.shows.models import Person, Show


@transaction.atomic
def want_study_sheet(*, show: Show, by: Person | None, at: datetime) -> Paper:
    """Want a new printing of the sheet; while the last one waits to be drawn it is that one."""
    Show.objects.select_for_update().values_list("pk").get(pk=show.pk)
    if not parts_of(demand_card(show)):
        raise NotYet(_("The card in use looks at no part of the handbook."))
    return print_of_show(show=show, kind=Paper.Kind.STUDY, subject="the study sheet", by=by, at=at)
