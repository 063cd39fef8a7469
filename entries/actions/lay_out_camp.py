"""Put the camp spots on the plan."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from django.db import transaction

from entries.models import CampSpot
from showrun.shows.models import Show


@transaction.atomic
def lay_out_camp(*, show: Show, spots: Iterable[Mapping[str, float]]) -> None:
    """Add or move camp spots; each has `number`, `x_ft`, `y_ft` and `frontage_ft`."""
    for spot in spots:
        CampSpot.objects.update_or_create(
            show=show,
            number=int(spot["number"]),
            defaults={
                "x_ft": spot["x_ft"],
                "y_ft": spot["y_ft"],
                "frontage_ft": int(spot.get("frontage_ft", 50)),
            },
        )
