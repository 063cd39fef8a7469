"""Steps of a running day, taken inside the service while a judge's phone is watched."""

from __future__ import annotations

from datetime import timedelta


def begin(slug: str, minutes: int) -> None:
    """Move the show's hours and times so that its window opened so many minutes ago."""
    from django.utils import timezone

    from judging.models import Visit, Window
    from showrun.shows.models import Show

    window = Window.objects.get(show__slug=slug)
    shift = timezone.now() - timedelta(minutes=minutes) - window.opens_at
    opens_at = window.opens_at + shift
    Show.objects.filter(slug=slug).update(
        judging_starts_at=opens_at,
        starts_on=(opens_at - timedelta(days=1)).date(),
        ends_on=(opens_at + timedelta(days=1)).date(),
    )
    for visit in Visit.objects.filter(window=window):
        visit.starts_at, visit.ends_at = visit.starts_at + shift, visit.ends_at + shift
        visit.save()
    window.opens_at = opens_at
    window.save()


def change(slug: str, judge: str, entry: int, minutes: int, reason: str) -> None:
    """Announce another time for one visit."""
    from django.utils import timezone

    from judging.actions.announce import change_times
    from judging.models import Visit
    from showrun.shows.models import Show
    from tests import judged_show as stage

    show = Show.objects.get(slug=slug)
    visit = Visit.objects.get(window__show=show, judge__code=judge, entry=entry)
    later = timedelta(minutes=minutes)
    change_times(
        show=show,
        times={(visit.judge_id, visit.entry_id): (visit.starts_at + later, visit.ends_at + later)},
        reason=reason,
        by=stage.office_of(show),
        at=timezone.now(),
    )
