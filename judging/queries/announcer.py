"""What the announcer reads out: signed results, from the last awarded place to the first."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from django.db.models import Count, Max

from entries.models import Entry
from entries.rules.money_words import dollars
from judging.models import Placing, Result
from judging.queries.results import number_of
from judging.rules.results.said import money_said, number_said, place_said
from showrun.shows.models import Person, Show
from showrun.shows.queries import Visitor
from showrun.shows.rules.access import Deed, Role, may


@dataclass(frozen=True)
class CallLine:
    """One wagon as it is called: in figures, and in English as they are read out."""

    entry: Entry
    rank: int
    shared: bool
    place: str
    number: str
    purse: str
    purse_said: str


@dataclass(frozen=True)
class CallList:
    """One class as it is called; `public` is the version that is out, if another one is.

    `newer` is the number of a version computed since, None where this is the newest.
    """

    result: Result
    lines: list[CallLine]
    public: Result | None
    newer: int | None


def call_lists(show: Show, *, hands_needed: int) -> list[CallList]:
    """Return every class whose newest signed version is there, in the show's order."""
    signed = Result.objects.filter(show_class__show=show).annotate(hands=Count("signatures"))
    newest: dict[int, Result] = {}
    signed = signed.filter(hands__gte=hands_needed).select_related("show_class")
    for result in signed.order_by("show_class__position", "show_class__code", "-version"):
        newest.setdefault(result.show_class_id, result)
    public = {
        result.show_class_id: result
        for result in Result.objects.released().filter(show_class__in=list(newest))
    }
    versions = Result.objects.filter(show_class__in=list(newest)).order_by()
    latest = dict(versions.values_list("show_class").annotate(latest=Max("version")))
    placings: dict[int, list[Placing]] = {result.pk: [] for result in newest.values()}
    found = Placing.objects.filter(result__in=list(placings)).select_related("entry__exhibitor")
    for placing in found.order_by("-place", "entry__number"):
        placings[placing.result_id].append(placing)
    return [
        CallList(
            result,
            _lines(result, placings[result.pk]),
            _other(result, public),
            latest[class_id] if latest[class_id] > result.version else None,
        )
        for class_id, result in newest.items()
    ]


def lines_of(result: Result) -> list[CallLine]:
    """Return one result as it is called, the last place first."""
    placings = Placing.objects.filter(result=result).select_related("entry__exhibitor")
    return _lines(result, list(placings.order_by("-place", "entry__number")))


def _other(result: Result, public: dict[int, Result]) -> Result | None:
    there = public.get(result.show_class_id)
    return there if there and there.pk != result.pk else None


def _lines(result: Result, placings: list[Placing]) -> list[CallLine]:
    sharing = Counter(placing.place for placing in placings)
    # Prize money may reach further than the places awarded.
    called = [
        placing
        for placing in placings
        if placing.place <= result.show_class.places_awarded or placing.purse_cents
    ]
    return [
        CallLine(
            entry=placing.entry,
            rank=placing.place,
            shared=sharing[placing.place] > 1,
            place=place_said(placing.place, sharing[placing.place]),
            number=number_said(number_of(placing.entry)),
            purse=dollars(placing.purse_cents) if placing.purse_cents else "",
            purse_said=money_said(placing.purse_cents) if placing.purse_cents else "",
        )
        for placing in called
    ]


def shows_to_call(person: Visitor) -> list[Show]:
    """Return the shows whose list the person may read without having its office."""
    if not isinstance(person, Person):
        return []
    roles = [
        role.value
        for role in Role
        if may([role], Deed.READ_CALL_LIST) and not may([role], Deed.SEE_OFFICE)
    ]
    held = Show.objects.filter(roles__person=person, roles__role__in=roles)
    return list(held.distinct())
