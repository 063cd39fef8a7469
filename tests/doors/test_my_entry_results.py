"""My entry: a result is told by the method that decided it, with what it lacks and what it paid."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse

from entries.models import Entry
from judging.actions.version_scorecard import new_version, use_scorecard
from judging.models import Placing, Result, Scorecard, Section
from judging.rules.results.methods import METHODS
from reports.rules.counting import method_words
from tests import counted_stage
from tests import papers_stage as stage

pytestmark = pytest.mark.django_db


def counted(method: str, **more: object) -> Result:
    show = stage.show()
    sections = stage.scorecard(show, n_sections=2, n_rows=4)
    return counted_stage.counted_class(show, sections, method=method, **more)  # type: ignore[arg-type]


def read(result: Result, number: int) -> str:
    entry = Entry.objects.get(show=result.show_class.show, number=number)
    client = Client()
    client.force_login(entry.exhibitor)
    answer = client.get(reverse("reports:my-entry", args=[entry.pk]))
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def sections_on(page: str) -> list[tuple[str, ...]]:
    """Return each section's name, own points, middle, lowest and highest."""
    return re.findall(
        r'<tr><th scope="row">([^<]*)</th>'
        r'<td class="num" data-label="Yours">([^<]*)</td>'
        r'<td class="num" data-label="Middle of the class">([^<]*)</td>'
        r'<td class="num" data-label="Lowest to highest">([^<]*)</td></tr>',
        page,
    )


@pytest.mark.parametrize("method", METHODS)
def test_the_total_is_out_of_what_the_method_can_give(method: str) -> None:
    result = counted(method, n_entries=4)
    placing = Placing.objects.get(result=result, entry__number=2)
    total, section = f"{placing.total} of 160 points", "of 80</td>"
    if method in ("mean", "trimmed"):
        total, section = f"{placing.total} of 40 points", "of 20</td>"
    if method == "placings":
        total, section = f"{placing.total.normalize():f} of 24 comparisons won", "of 12</td>"
    page = read(result, 2)
    assert f"</strong> with {total}" in page
    assert page.count(section) == 2
    assert method_words(method) in page
    assert "Purse" not in page
    assert "missing" not in page


def test_missing_cards_and_the_purse_are_told_and_no_judge_is_named() -> None:
    result = counted("mean", leave_out=(("J2", 2),), purse_cents=90_000)
    own, other = read(result, 2), read(result, 1)
    assert "Of this wagon: one judge, all sections. No missing card was counted as zero" in own
    assert "Of other wagons: entry 2, all sections." in other
    for page, paid in ((own, "$360"), (other, "$540")):
        assert "An officer of the show accepted this in writing: <bdi>The judge was taken" in page
        assert f"Purse {paid}." in page
        assert not re.search(r"\bJ2\b", page)


def test_sections_stay_as_they_were_counted_when_another_card_is_put_in_use() -> None:
    result = counted("placings")
    before = sections_on(read(result, 1))
    draft = new_version(card=Scorecard.objects.get(), by=None, at=stage.AT)
    first, last = draft.sections.order_by("position")
    Section.objects.filter(pk=first.pk).update(name="Undercarriage", points=35)
    last.delete()
    late = stage.AT.replace(hour=23)
    use_scorecard(card=draft, reason="The card was wrong.", by=None, at=late)
    assert sections_on(read(result, 1)) == before
    assert [name for name, *_ in before] == ["Running gear", "Wagon box"]
