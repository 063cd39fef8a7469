"""Sheets of classes counted by each method: what they say is so, and their figures add up."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from decimal import Decimal
from typing import Any

import pytest

from judging.actions.version_scorecard import new_version, use_scorecard
from judging.models import Card, CardMark, Placing, Result, Scorecard, Section
from judging.rules.results.methods import METHODS
from reports.actions.draw_paper import lay_out
from reports.rules.counting import TOLD, method_words
from showrun.errors import Conflict
from showrun.shows.models import Show
from tests import counted_stage
from tests import papers_stage as stage
from tests.drawn_papers import demand_sound, drawn_from, paper_of, words_of
from tests.kept import kept_for_module

pytestmark = pytest.mark.django_db
FIGURE = r"\d+(?:\.\d+)?"

ONE_MISSING = (("J2", 2),)
Kept = Callable[..., Result]


def counted(show: Show, method: str, **more: object) -> Result:
    sections = stage.scorecard(show, n_sections=2, n_rows=4)
    return counted_stage.counted_class(show, sections, method=method, **more)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def kept_pks(django_db_setup: None, django_db_blocker: Any) -> Iterator[dict[object, int]]:
    """A class by each method, each in a show of its own: all cards in, and one missing."""
    both = [(method, gap) for method in METHODS for gap in ((), ONE_MISSING)]
    both.remove(("placings", ONE_MISSING))
    with kept_for_module(django_db_blocker):
        yield {
            (method, gap): counted(stage.show(f"{method}-{len(gap)}"), method, leave_out=gap).pk
            for method, gap in both
        }


@pytest.fixture
def kept(kept_pks: dict[object, int], db: None) -> Kept:
    """Return the result by this method."""
    return lambda method, leave_out=(): Result.objects.get(pk=kept_pks[method, leave_out])


def sums(words: str) -> str:
    """The part of a sheet that adds up."""
    return words.split("How the total adds up")[1].partition("A judge’s points in a section")[0]


def rows(words: str, figures: int) -> list[tuple[str, list[Decimal]]]:
    """Each section's reckoning and the figures after it, and the total's."""
    found = []
    for name, following in (("Running gear", "Wagon box"), ("Wagon box", "Total the")):
        line = sums(words).split(name, 1)[1].split(following, 1)[0].strip()
        ends = line.split()
        found.append((" ".join(ends[:-figures]), [Decimal(end) for end in ends[-figures:]]))
    return found


@pytest.mark.parametrize("method", METHODS)
def test_both_sheets_say_what_decides_and_the_sections_come_to_the_total(
    kept: Kept, method: str
) -> None:
    result = kept(method)
    other = [method_words(name).split(":")[0] + ":" for name in METHODS if name != method]
    for kind in ("feedback", "award"):
        words = words_of(paper_of(result, kind, 2))
        assert method_words(method) in words
        assert not any(sentence in words for sentence in other)
    words = words_of(paper_of(result, "feedback", 2))
    assert TOLD[method].more in words
    placing = Placing.objects.get(result=result, entry__number=2)
    sections = [line[1][-1] for line in rows(words, 2 if "Together Adjusted" in words else 1)]
    assert sections == [Decimal(placing.by_section[code]) for code in ("s0", "s1")]
    total = Decimal(sums(words).split()[-1])
    assert total == sum(sections) == placing.total


@pytest.mark.parametrize(
    ("kind", "method", "leave_out"),
    [
        ("feedback", "plain", ()),
        ("feedback", "crossed", ONE_MISSING),
        ("feedback", "placings", ()),
        ("award", "crossed", ONE_MISSING),
    ],
)
def test_the_files_of_all_looks_are_sound(
    kept: Kept, kind: str, method: str, leave_out: tuple[tuple[str, int], ...]
) -> None:
    """One column of figures and two, places, and cards missing: the methods differ in no other."""
    demand_sound(paper_of(kept(method, leave_out), kind, 2))


def test_a_mean_is_the_mean_of_what_is_printed_and_out_of_one_judges_points(kept: Kept) -> None:
    words = words_of(paper_of(kept("mean"), "feedback", 2))
    for reckoning, (figure,) in rows(words, 1):
        given = [Decimal(one) for one in reckoning.split(", ")]
        assert len(given) == 4
        assert abs(sum(given, Decimal(0)) / 4 - figure) <= Decimal("0.005")
    assert "of 40 points" in words
    assert "of 160" not in words


def test_a_trimmed_mean_is_of_those_it_does_not_drop(kept: Kept) -> None:
    words = words_of(paper_of(kept("trimmed"), "feedback", 2))
    for reckoning, (figure,) in rows(words, 1):
        counts, dropped = reckoning.split("; dropped ")
        low, high = map(Decimal, dropped.split(" and "))
        middle = [Decimal(one) for one in counts.split(", ")]
        assert low <= min(middle) <= max(middle) <= high
        assert abs(sum(middle, Decimal(0)) / 2 - figure) <= Decimal("0.005")


@pytest.mark.parametrize("method", ["judge_adjusted", "crossed"])
def test_adjusted_figures_stand_beside_the_judges_sum(kept: Kept, method: str) -> None:
    words = words_of(paper_of(kept(method), "feedback", 2))
    for reckoning, (together, adjusted) in rows(words, 2):
        assert sum(Decimal(one) for one in reckoning.split(" + ")) == together
        assert adjusted == together  # every judge saw every wagon


def test_places_are_told_as_places_and_no_points_are_pretended(kept: Kept) -> None:
    result = kept("placings")
    for number in (1, 2, 4):
        words = words_of(paper_of(result, "feedback", number))
        placing = Placing.objects.get(result=result, entry__number=number)
        assert re.search(rf"{placing.total.normalize():f} of 24 comparisons won", words)
        for reckoning, (figure,) in rows(words, 1):
            won = re.findall(
                rf"({FIGURE}) \((?:first|second|third|fourth)(?:, level)?\)", reckoning
            )
            assert len(won) == 4
            assert sum(map(Decimal, won)) == figure
        assert f"{placing.total} of" not in words or placing.total % 1
        assert "points" not in words.split("Your points")[0].split("How the rows counted")[0]
    assert "comparisons won, four entries judged" in words_of(paper_of(result, "award", 1))


def test_a_wagon_alone_in_a_class_of_places_has_nothing_to_be_set_beside() -> None:
    words = words_of(paper_of(counted(stage.show(), "placings", n_entries=1), "feedback", 1))
    assert "the only entry placed" in words
    assert "beside the class" not in words
    assert "0 of 0 comparisons won" in words


@pytest.mark.parametrize("method", ["plain", "mean", "trimmed", "judge_adjusted", "crossed"])
def test_a_sheet_names_the_card_missing_and_counts_no_zero(kept: Kept, method: str) -> None:
    result = kept(method, ONE_MISSING)
    words, other = (words_of(paper_of(result, "feedback", number)) for number in (2, 3))
    missing = words.split("Cards missing")[1].split("beside the class")[0]
    assert re.search(r"Of this wagon: Judge [A-D], all sections\.", missing)
    assert "No missing card was counted as zero" in missing
    assert "An officer of the show accepted this in writing, 15 May 2027" in missing
    assert "The judge was taken ill." in missing
    assert not re.search(r"\bJ2\b", words)
    assert "Of other wagons: entry 2, all sections." in other
    assert not re.search(r"\bJ2\b", other)
    placing = Placing.objects.get(result=result, entry__number=2)
    found = rows(words, 2 if method in ("judge_adjusted", "crossed") else 1)
    assert [line[1][-1] for line in found] == [
        Decimal(placing.by_section[code]) for code in ("s0", "s1")
    ]
    if method == "plain":
        for reckoning, (figure,) in found:
            assert "(the mean, for a missing card)" in reckoning
            assert sum(map(Decimal, re.findall(r"\d+\.\d\d", reckoning))) == figure
    assert "of 3 judges" in words.split("How the rows counted")[1].split("Strongest")[0]
    award = words_of(paper_of(result, "award", 1))
    assert "Cards missing: entry 2, all sections. No missing card was" in award


def test_a_complete_result_says_nothing_of_missing_cards(kept: Kept) -> None:
    result = kept("plain")
    for kind in ("feedback", "award"):
        assert "issing" not in words_of(paper_of(result, kind, 1))


def test_a_card_that_comes_in_after_the_release_changes_no_sheet(kept: Kept) -> None:
    result = kept("mean", ONE_MISSING)
    paper = paper_of(result, "feedback", 2)
    before = drawn_from(paper)
    Card.objects.filter(handed_in_at=None).update(handed_in_at=stage.AT)
    assert drawn_from(paper) == before


def test_a_purse_is_paid_on_both_sheets_where_there_is_one() -> None:
    result = counted(stage.show(), "plain", purse_cents=90_001)
    for kind in ("award", "feedback"):
        assert "Purse $540.01" in words_of(paper_of(result, kind, 1))
        assert "Purse $360" in words_of(paper_of(result, kind, 2))
    assert "Purse" not in words_of(paper_of(result, "feedback", 3))
    assert "prizes of the places shared" not in words_of(paper_of(result, "award", 1))
    Placing.objects.filter(result=result, entry__number=2).update(place=1)
    assert "a part of the prizes of the places shared" in words_of(paper_of(result, "award", 1))


@pytest.mark.parametrize("method", ["plain", "trimmed", "placings"])
def test_marks_changed_after_the_result_are_never_printed(kept: Kept, method: str) -> None:
    result = kept(method)
    papers = [paper_of(result, "feedback", number) for number in (1, 2)]
    CardMark.objects.filter(card__entry__number=1, state="marked").update(value=0)
    for paper in papers[: 2 if method == "placings" else 1]:
        with pytest.raises(Conflict, match="changed after"):
            lay_out(paper)


@pytest.mark.parametrize("method", ["plain", "placings"])
def test_another_card_put_in_use_changes_nothing_of_a_sheet(kept: Kept, method: str) -> None:
    result = kept(method)
    papers = [paper_of(result, kind, 2) for kind in ("feedback", "award")]
    before = [drawn_from(paper) for paper in papers]
    draft = new_version(
        card=Scorecard.objects.get(show=result.show_class.show), by=None, at=counted_stage.AT
    )
    first, last = draft.sections.order_by("position")
    Section.objects.filter(pk=first.pk).update(name="Undercarriage", points=Decimal(35))
    first.criteria.filter(code="s0_r1").delete()
    last.delete()
    late = counted_stage.AT.replace(hour=23)
    use_scorecard(card=draft, reason="The card was wrong.", by=None, at=late)
    assert not CardMark.objects.filter(criterion__section=first, criterion__code="s0_r1").exists()
    again = [drawn_from(paper) for paper in papers]
    assert again == before
    assert words_of(papers[0]).count("Running gear") > 1
