"""The practice wagon: all judges mark it before the round and compare; its marks never count."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime

from django.db import transaction

from entries.models import Entry
from entries.rules.places import Status
from entries.rules.rig import Rig, faults_of_rig
from judging.models import Judge, Scorecard, Seat
from judging.queries.cards import card_of, demand_card
from judging.queries.practice import is_marked, is_open, practice_entry
from judging.rules.cards.scorecard import Form
from showrun.errors import Conflict, InvalidInput, NotYet
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show

LONGEST_NAME = 80  # letters, as kept
LONGEST_PLANTED = 2000


@transaction.atomic
def set_up_practice(
    *,
    show: Show,
    wagon_name: str,
    rig: Mapping[str, str],
    planted: str = "",
    by: Person,
    at: datetime,
) -> Entry:
    """Make the show's practice wagon and seat every judge at it, or change and open it again.

    `planted` lists the faults planted on it, a line each; judges do not see them on the phone.
    Name and rig stay as they are once a mark is on it.
    """
    # The lock on the show lets one wagon be made, however often the button is touched.
    show = Show.objects.select_for_update().get(pk=show.pk)
    name, planted = wagon_name.strip(), planted.strip()
    _demand_sound(name, rig, planted)
    facts = Rig.read(rig).facts()
    card = demand_card(show)
    wagon = practice_entry(show)
    before = _as_kept(wagon) if wagon else None
    if wagon is None:
        wagon = Entry(
            show=show, exhibitor=by, status=Status.PRACTICE.value, wagon_name=name, entered_at=at
        )
    elif (wagon.wagon_name, wagon.rig.facts()) != (name, facts) and is_marked(wagon):
        raise Conflict(
            _("Judges have marked the practice wagon; its name and rig stay as they are."),
            code="practice-marked",
        )
    wagon.wagon_name, wagon.history = name, planted
    for fact, value in facts.items():
        setattr(wagon, fact, value)
    wagon.save()
    here = Judge.objects.filter(show=show, left_at__isnull=True)
    if not _seat(wagon, here, card):
        raise NotYet(_("Engage a judge first; a practice wagon needs somebody to mark it."))
    verb = "set up" if before is None else "changed" if before["open"] else "opened"
    _record(show, wagon, verb, before=before, by=by, at=at)
    return wagon


@transaction.atomic
def close_practice(*, show: Show, by: Person, at: datetime) -> Entry:
    """Take the practice wagon off the judges' phones; what they marked stays to be talked over."""
    show = Show.objects.select_for_update().get(pk=show.pk)
    wagon = practice_entry(show)
    if wagon is None:
        raise NotYet(_("There is no practice wagon to close."))
    if not is_open(wagon):
        raise Conflict(_("The practice wagon is closed already."))
    before = _as_kept(wagon)
    Seat.objects.filter(entry=wagon).delete()
    _record(show, wagon, "closed", before=before, by=by, at=at)
    return wagon


def seat_at_practice(judge: Judge) -> None:
    """Seat a judge engaged later at the practice wagon, while it is open."""
    wagon = practice_entry(judge.show)
    card = card_of(judge.show) if wagon and is_open(wagon) else None
    if wagon and card:
        _seat(wagon, [judge], card)


def _demand_sound(name: str, rig: Mapping[str, str], planted: str) -> None:
    faults = faults_of_rig(rig)
    if not name:
        faults["wagon_name"] = _("A name for the practice wagon, please.")
    elif len(name) > LONGEST_NAME:
        faults["wagon_name"] = _("At most {longest} letters, please.").format(longest=LONGEST_NAME)
    if len(planted) > LONGEST_PLANTED:
        faults["planted"] = _("At most {longest} letters, please.").format(longest=LONGEST_PLANTED)
    if faults:
        raise InvalidInput(
            _("The practice wagon is not set up yet: see the marked fields."), fields=faults
        )


def _seat(wagon: Entry, judges: Iterable[Judge], card: Scorecard) -> int:
    """Seat these judges for their sections as they are now; return how many seats there are.

    A section of places is left out: a wagon alone has no place.
    """
    ids = [judge.pk for judge in judges]
    asked = Judge.sections.through.objects.filter(judge__in=ids, section__scorecard=card)
    asked = asked.exclude(section__form=Form.PLACINGS.value)
    wanted = set(asked.values_list("judge_id", "section_id"))
    there = Seat.objects.filter(entry=wagon, judge__in=ids)
    kept = {(seat.judge_id, seat.section_id): seat.pk for seat in there}
    there.exclude(pk__in=[pk for place, pk in kept.items() if place in wanted]).delete()
    Seat.objects.bulk_create(
        Seat(judge_id=judge_id, entry=wagon, section_id=section_id)
        for judge_id, section_id in sorted(wanted - set(kept))
    )
    return len(wanted)


def _as_kept(wagon: Entry) -> dict[str, object]:
    return {
        "wagon_name": wagon.wagon_name,
        "rig": wagon.rig.in_words(),
        "planted": wagon.history,
        "open": is_open(wagon),
    }


def _record(
    show: Show,
    wagon: Entry,
    verb: str,
    *,
    before: dict[str, object] | None,
    by: Person,
    at: datetime,
) -> None:
    record_change(
        show=show,
        actor=by,
        at=at,
        verb=verb,
        subject="the practice wagon",
        before=before,
        after=_as_kept(wagon),
    )
