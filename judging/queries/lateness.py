"""Up to when touches on a judge's cards count: the window, and the signatures under results."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from datetime import datetime, timedelta
from typing import NamedTuple

from django.db.models import Max, Min, Subquery

from entries.models import EntryClass
from judging.models import ClassCard, DayRules, Device, PaperCard, Signature, Window


class WindowEnd(NamedTuple):
    """When the announced judging ends, and for how long after it touches count [min]."""

    at: datetime
    grace_minutes: int


def window_end(show_id: int, *, at: datetime) -> WindowEnd | None:
    """Return the end of the show's published window, None also while nothing can be late yet.

    Visits announced beyond the window move its end. They, and the grace, are read only when the
    window itself is over.
    """
    published = Window.objects.filter(show=show_id, published_at__isnull=False)
    window = published.values_list("opens_at", "available_minutes").first()
    if window is None:
        return None
    ends_at = window[0] + timedelta(minutes=window[1])
    if at <= ends_at:
        return None
    grace = DayRules.objects.filter(show=show_id).values("grace_minutes")
    further = published.annotate(last=Max("visits__ends_at"), grace=Subquery(grace))
    last, minutes = further.values_list("last", "grace").get()
    if minutes is None:
        minutes = DayRules().grace_minutes
    return WindowEnd(max(ends_at, last or ends_at), minutes)


def signed_cards(show_id: int, sections: Mapping[int, Collection[int]]) -> Mapping[int, datetime]:
    """Return when the first result was signed that counts a card, by entry id.

    `sections` are the section ids of one judge's cards, by entry id. Once signed, a card stays
    so, whatever version of the result comes after.
    """
    signed = Signature.objects.filter(result__show_class__show=show_id).order_by()
    hands = dict(signed.values_list("result__show_class_id").annotate(first=Min("signed_at")))
    if not hands:
        return {}
    counted: dict[int, set[int]] = defaultdict(set)
    cards = ClassCard.objects.filter(show_class__in=list(hands))
    for class_id, section_id in cards.values_list("show_class_id", "sections"):
        counted[class_id].add(section_id)
    pairs = EntryClass.objects.filter(entry__in=list(sections), show_class__in=list(hands))
    found: dict[int, datetime] = {}
    for entry_id, class_id in pairs.values_list("entry_id", "show_class_id"):
        if counted[class_id].intersection(sections[entry_id]):
            found[entry_id] = min(hands[class_id], found.get(entry_id, hands[class_id]))
    return found


def papers_keyed_anew(device: Device) -> set[int]:
    """Return the entries whose paper cards were started over and are not taken again yet.

    Only for the judge's paper itself; to a phone such a card is like any other.
    """
    if not device.is_paper:
        return set()
    anew = PaperCard.objects.filter(judge=device.judge_id, edition__gt=1, taken_at__isnull=True)
    return set(anew.order_by().values_list("entry_id", flat=True))
