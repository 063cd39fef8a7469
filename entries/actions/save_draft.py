"""Keep what an exhibitor has typed so far, bring a kept outfit into it, or throw it away."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from django.db import transaction

from entries.models import EntryDraft, Outfit
from entries.queries.entering import closed_for, outfits_of
from entries.queries.entries import own_wagons
from entries.rules.draft import kept_of, with_outfit
from entries.rules.eligibility import same_name
from entries.rules.rig import FACTS
from showrun.errors import Conflict, Gone, NotFound
from showrun.language import gettext as _
from showrun.shows.models import Person, Show


@transaction.atomic
def save_draft(
    *,
    show: Show,
    exhibitor: Person,
    typed: Mapping[str, Sequence[str]],
    outfit_id: int | None = None,
    at: datetime,
) -> EntryDraft:
    """Keep the fields as typed; a draft is no entry and holds no place.

    With `outfit_id` the facts of that kept outfit take the place of what was typed.
    """
    # Queues up behind entering, so that a save that comes late brings no entered wagon back.
    show = Show.objects.select_for_update().get(pk=show.pk)
    if closed := closed_for(show, at):
        raise Gone(closed, code="entries-closed")
    kept = kept_of(typed)
    if outfit_id is not None:
        kept = kept_of(with_outfit(kept, _facts(exhibitor, outfit_id)))
    name = same_name(kept.get("wagon_name", [""])[0])
    if name and name in {same_name(mine.wagon_name) for mine in own_wagons(exhibitor, show)}:
        raise Conflict(_("You have entered this wagon already."), code="entered-already")
    draft, _made = EntryDraft.objects.update_or_create(
        show=show, exhibitor=exhibitor, defaults={"typed": kept, "saved_at": at}
    )
    return draft


@transaction.atomic
def discard_draft(*, show: Show, exhibitor: Person) -> None:
    """Throw away what was typed and not sent off."""
    EntryDraft.objects.filter(show=show, exhibitor=exhibitor).delete()


def _facts(exhibitor: Person, outfit_id: int) -> list[tuple[str, object]]:
    outfit = next((one for one in outfits_of(exhibitor) if one.pk == outfit_id), None)
    if outfit is None:
        raise NotFound(_("There is no such wagon among those you have brought before."))
    return [("outfit", outfit.name), *((name, getattr(outfit, name)) for name in _COPIED)]


_COPIED: tuple[str, ...] = tuple(
    field.name
    for field in Outfit._meta.fields
    if field.name in ("wagon_name", "history", "frontage_ft", "depth_ft", *FACTS)
)
