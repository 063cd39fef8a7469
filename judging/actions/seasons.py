"""Make a season, declare its points, and say which classes count in it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db import IntegrityError, transaction
from django.utils.text import slugify

from judging.models import Season, SeasonClass
from judging.queries.seasons import CHANGED, counted_results, subject_of
from judging.rules.results.season import read_table
from showrun.errors import Conflict, InvalidInput
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show, ShowClass

LONGEST_NAME = 120
LONGEST_REASON = 300
MOST_SHOWS = 1000


@transaction.atomic
def make_season(
    *, show: Show, name: str, points: Sequence[str], best_of: int | None, by: Person, at: datetime
) -> Season:
    """Declare a season; who makes it may edit it, the show whose office makes it records it."""
    name = _name(name)
    season = Season(
        slug=slugify(name)[:50].strip("-"),
        name=name,
        points=_points(points),
        best_of=_best_of(best_of),
        made_by=by,
        made_at=at,
    )
    taken = InvalidInput(
        _("There is a season of that name."), fields={"name": _("Another name, please.")}
    )
    if not season.slug:
        raise InvalidInput(_("The name has no letters."), fields={"name": _("Letters, please.")})
    if Season.objects.filter(slug=season.slug).exists():
        raise taken
    try:
        with transaction.atomic():
            season.save()
    except IntegrityError as fault:  # made by somebody else this moment
        raise taken from fault
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="made a season",
        subject=subject_of(season),
        after=_declared(season),
    )
    return season


@transaction.atomic
def change_season(
    *,
    season: Season,
    name: str,
    points: Sequence[str],
    best_of: int | None,
    reason: str,
    by: Person,
    at: datetime,
) -> Season:
    """Change what a season declares; once a released result counts, points need a reason.

    Every show with a class in the season records it.
    """
    season = Season.objects.select_for_update(of=("self",)).get(pk=season.pk)
    before = _declared(season)
    season.name, season.points = _name(name), _points(points)
    season.best_of = _best_of(best_of)
    after = _declared(season)
    if before == after:
        return season
    reason = reason.strip()[:LONGEST_REASON]
    others = any(before[key] != after[key] for key in ("points", "best_of"))
    if others and not reason and counted_results(season):
        raise InvalidInput(
            _("Released results count in this season already; a change needs its reason."),
            code="reason-needed",
            fields={"reason": _("Why do the points change? It stands on the season's page.")},
        )
    season.save(update_fields=["name", "points", "best_of"])
    for show in Show.objects.filter(classes__in=season.classes.values("show_class")).distinct():
        record_change(
            show=show,
            actor=by,
            at=at,
            verb=CHANGED if others else "renamed a season",
            subject=subject_of(season),
            before=before,
            after=after,
            reason=reason if others else "",
        )
    return season


@transaction.atomic
def add_class(*, season: Season, show_class: ShowClass, by: Person, at: datetime) -> SeasonClass:
    """Let a class count in the season; only its own show's office does that."""
    row, new = SeasonClass.objects.get_or_create(
        season=season, show_class=show_class, defaults={"added_by": by, "added_at": at}
    )
    if not new:
        raise Conflict(
            _("{show_class} counts in {season} already.").format(
                show_class=show_class, season=season
            )
        )
    _record_class("added a class to a season", row, by, at)
    return row


@transaction.atomic
def remove_class(*, row: SeasonClass, reason: str, by: Person, at: datetime) -> None:
    """Let a class count no more, with a reason."""
    reason = reason.strip()[:LONGEST_REASON]
    if not reason:
        raise InvalidInput(
            _("Say why the class counts no more."),
            code="reason-needed",
            fields={"reason": _("Why?")},
        )
    _record_class("took a class out of a season", row, by, at, reason)
    row.delete()


def _record_class(verb: str, row: SeasonClass, by: Person, at: datetime, reason: str = "") -> None:
    record_change(
        show=row.show_class.show,
        actor=by,
        at=at,
        verb=verb,
        subject=subject_of(row.season),
        after={"class": row.show_class.name},
        reason=reason,
    )


def _declared(season: Season) -> dict[str, object]:
    return {"name": season.name, "points": list(season.points), "best_of": season.best_of}


def _name(given: str) -> str:
    name = " ".join(given.split())
    if not name or len(name) > LONGEST_NAME:
        raise InvalidInput(
            _("A season needs a name."),
            fields={"name": _("1 to {longest} letters, please.").format(longest=LONGEST_NAME)},
        )
    return name


def _points(given: Sequence[str]) -> list[str]:
    try:
        return [f"{points:f}" for points in read_table(given)]
    except ValueError as fault:
        raise InvalidInput(str(fault), fields={"points": str(fault)}) from fault


def _best_of(given: int | None) -> int | None:
    if given is not None and not 1 <= given <= MOST_SHOWS:
        raise InvalidInput(
            _("At least one show counts."),
            fields={"best_of": _("1 to {most}, or empty for all shows.").format(most=MOST_SHOWS)},
        )
    return given
