"""Papers of a result read back: record, announcer's list, purse sheet, certificate."""

from __future__ import annotations

import re
from decimal import Decimal
from io import BytesIO
from typing import Any

import pytest
from pypdf import PdfReader

from entries.models import Entry
from entries.rules.money_words import dollars
from judging.models import CardMark, Placing, Question, Result, Signature
from judging.rules.results.methods import METHODS, SAID
from reports.actions.draw_paper import lay_out
from reports.actions.want_certificates import want_certificates
from reports.models import Paper
from showrun.errors import Conflict
from showrun.shows.models import Show, ShowClass
from tests import counted_stage
from tests import papers_stage as stage
from tests.drawn_papers import (
    demand_accessible,
    demand_inside,
    demand_lasting,
    demand_sound,
    letters,
    papers,
    text,
    words_of,
)

pytestmark = pytest.mark.django_db
LONG = "Große Überlandküche der Brüder Ångström-Þórsdóttir am Süßwasserbrunnen"
RIGHT_TO_LEFT = "عربة المطبخ القديمة"


@pytest.fixture
def show() -> Show:
    return stage.show()


def counted(show: Show, method: str = "plain", **more: Any) -> Result:
    sections = stage.scorecard(show, n_sections=2, n_rows=4)
    return counted_stage.counted_class(show, sections, method=method, **more)


def paper(result: Result, kind: str) -> Paper:
    if kind == "certificate":
        show = result.show_class.show
        return want_certificates(show=show, by=None, at=stage.AT)[0]
    (found,) = papers(result, kind)
    return found


def part(words: str, begin: str, end: str) -> str:
    return words.split(begin, 1)[1].split(end, 1)[0]


@pytest.mark.parametrize("method", METHODS)
def test_a_record_says_what_was_declared_placed_signed_and_released(
    show: Show, method: str
) -> None:
    result = counted(show, method, purse_cents=90_001)
    words = words_of(paper(result, "record"))
    assert SAID[method] in words
    assert f"Rule version {result.rule_version}." in words
    assert letters(result.result_hash) in letters(words)
    assert letters(result.inputs_hash) in letters(words)
    for hand in Signature.objects.filter(result=result).select_related("person"):
        assert f"{hand.person.name}, 15 May 2027, 14:00 MDT" in words
    assert "15 May 2027, 14:05 MDT by Mara Ellison" in words
    places = part(words, "Places Place Wagon", "Points by section")
    for line in Placing.objects.filter(result=result).select_related("entry"):
        assert str(line.entry) in places
        assert dollars(line.purse_cents) in places or not line.purse_cents
        by_section = part(words, "Points by section", "What each judge gave")
        for points in line.by_section.values():
            assert f"{Decimal(points).normalize():f}" in by_section
    assert "No card is missing." in words
    assert "A score is not a safety inspection." in words


def test_a_records_file_is_sound_and_lasts_where_places_decide(show: Show) -> None:
    demand_lasting(demand_sound(paper(counted(show, "placings", purse_cents=90_001), "record")))


def test_what_each_judge_gave_stands_in_a_table_and_comes_to_the_total(show: Show) -> None:
    result = counted(show)
    words = words_of(paper(result, "record"))
    cards = part(words, "then each section.", "Running gear, 20 points a card")
    for line in Placing.objects.filter(result=result).select_related("entry"):
        row = re.search(rf"{re.escape(str(line.entry))} ((?:\d+\.\d\d ?)+)", cards)
        assert row is not None
        given = [Decimal(points) for points in row[1].split()]
        assert len(given) == 4
        assert sum(given) == line.total
    for n in range(1, 5):
        assert f"J{n} Judge No {n}" in words


def test_judges_agreement_and_questions_are_told_with_their_answers(show: Show) -> None:
    result = counted(show, n_entries=7, n_judges=3)
    Question.objects.all().delete()
    entry = Entry.objects.get(show=show, number=2)
    row = CardMark.objects.filter(card__entry=entry).select_related("criterion", "card__judge")[0]
    Question.objects.create(
        judge=row.card.judge, entry=entry, criterion=row.criterion, value=3,
        expected=Decimal("7.5"), statistic=5, threshold=4, alpha=0.05, asked_at=stage.AT,
        state=Question.State.CORRECTED,
        answer=8, reason="Read the wrong line.", answered_at=stage.AT,
        answered_by=row.card.judge.person,
    )  # fmt: skip
    words = words_of(paper(result, "record"))
    asked = part(words, "Questions put to judges", "Cards missing")
    assert row.criterion.name in asked
    assert "Answer: corrected, 8: Read the wrong line." in asked
    assert "One question was put to judges; a judge corrected a mark in one." in words
    marked = part(words, "How each judge marked", "How far the judges agreed")
    assert len(re.findall(r"-?\d\.\d\d to \d\.\d\d", marked)) >= 3
    agreed = part(words, "How far the judges agreed", "Questions put to judges")
    for name in ("Running gear", "Wagon box"):
        assert name in agreed


def test_cards_missing_and_who_accepted_it_are_told(show: Show) -> None:
    result = counted(show, leave_out=(("J2", 2),))
    words = words_of(paper(result, "record"))
    missing = part(words, "Cards missing", "Versions")
    assert "Judge No 2 (J2), wagon 2 Rolling Biscuit: Running gear, Wagon box" in missing
    assert "Accepted in writing by Mara Ellison, 15 May 2027, 14:00 MDT" in missing
    assert "The judge was taken ill." in missing
    assert "A missing card counts as no mark, never as zero." in words
    cards = part(words, "then each section.", "Running gear, 20 points a card")
    assert re.search(r"2\. Rolling Biscuit \d+\.\d\d – \d+\.\d\d \d+\.\d\d", cards)


def test_a_correction_says_what_it_replaced_and_why(show: Show) -> None:
    # A card missing, figures adjusted and a purse besides: the longest that a file has to hold.
    first = counted(
        show, "crossed", n_judges=3, n_entries=3, purse_cents=90_001, leave_out=(("J2", 2),)
    )
    old = paper(first, "record")
    CardMark.objects.filter(card__entry__number=3, state="marked").update(value=10)
    second = counted_stage.released(show)
    assert second.version == 2
    drawn = demand_sound(paper(second, "record"))
    demand_lasting(drawn)
    words = text(drawn)
    versions = part(words, "Versions", "What the service did not change")
    assert "Read again." in versions
    assert "What version 2 changed of version 1" in versions
    assert "3. Gate and Kettle" in versions
    old.refresh_from_db()
    assert old not in Paper.objects.current()
    with pytest.raises(Conflict, match="changed after"):
        lay_out(old)


@pytest.mark.parametrize("kind", ["record", "calls", "purse", "certificate"])
@pytest.mark.parametrize("size", ["letter", "a4"])
def test_long_accented_and_right_to_left_names_stay_on_the_page_each_time_the_same(
    show: Show, kind: str, size: str, settings: Any
) -> None:
    settings.PAPER_SIZE = size
    result = counted(show, n_entries=2, n_judges=2, purse_cents=10_001)
    Entry.objects.filter(number=1).update(wagon_name=LONG, outfit=f"Outfit {LONG}"[:80])
    Entry.objects.filter(number=2).update(wagon_name=RIGHT_TO_LEFT)
    ShowClass.objects.update(name="Wagons drawn by four, of any pattern, as used before rubber")
    one = paper(result, kind)
    drawn = lay_out(one)
    demand_accessible(drawn)
    demand_inside(drawn)
    if size == "letter":
        assert lay_out(Paper.objects.get(pk=one.pk)).data == drawn.data
    assert letters("Süßwasserbrunnen") in letters(text(drawn))
    box = PdfReader(BytesIO(drawn.data)).pages[0].mediabox
    short, long = sorted((round(box.width), round(box.height)))
    assert (short, long) == ((612, 792) if size == "letter" else (595, 842))
    if kind == "certificate":
        assert drawn.pages == 1


def test_one_judge_and_one_wagon_are_a_record_too(show: Show) -> None:
    words = text(demand_sound(paper(counted(show, n_entries=1, n_judges=1), "record")))
    assert "J1 Judge No 1" in words


def test_a_large_class_keeps_every_wagon_and_every_judge(show: Show) -> None:
    """Forty wagons and six judges: pictures and tables are parted, nobody is lost."""
    sections = stage.scorecard(show, n_sections=1, n_rows=2)
    result = stage.released_class(show, sections, n_entries=40, n_judges=6, places_awarded=3)
    drawn = lay_out(paper(result, "record"))
    demand_inside(drawn)
    words = text(drawn)
    places, judges = (
        part(words, "Places", "Points by section"),
        part(words, "then each section.", "How each judge marked"),
    )
    for line in Placing.objects.filter(result=result).select_related("entry"):
        assert str(line.entry) in places
        assert str(line.entry) in judges
    for n in range(1, 7):
        assert f"J{n} Judge No {n}" in words


def test_the_announcers_list_runs_from_the_last_awarded_place_to_the_first(show: Show) -> None:
    result = counted(show, purse_cents=90_000)
    Placing.objects.filter(result=result, entry__number=3).update(place=2)
    words = text(demand_sound(paper(result, "calls")))
    assert words.index("Second place, shared by two") < words.index("First place")
    assert "1 (one) Tin Lantern" in words
    assert "$540.00 (five hundred forty dollars)" in words
    assert "Last Willow" not in words
    assert "Exhibitor" in words


def test_a_purse_sheet_pays_to_the_cent_and_says_how(show: Show) -> None:
    result = counted(show, purse_cents=90_001)
    words = text(demand_sound(paper(result, "purse")))
    paid = part(words, "Who is paid what", "How it is divided")
    amounts = [Decimal(one) for one in re.findall(r"\$(\d+\.\d\d)", paid)]
    assert amounts == [Decimal("540.01"), Decimal("360.00"), Decimal("900.01")]
    assert "It is the whole purse." in paid
    assert "No paid place is shared in this result." in words
    Placing.objects.filter(result=result, entry__number=1).update(purse_cents=45_001)
    Placing.objects.filter(result=result, entry__number=2).update(place=1, purse_cents=45_000)
    words = words_of(paper(result, "purse"))
    assert (
        "The first and second prizes, $900.01 together, are divided by two: $450.01, $450.00."
        in words
    )
    assert words.count("First place, shared") == 2


def test_without_a_purse_there_is_no_purse_sheet(show: Show) -> None:
    assert papers(counted(show), "purse") == []


def test_every_placed_entry_may_have_a_certificate(show: Show) -> None:
    result = counted(show)
    made = want_certificates(show=show, by=None, at=stage.AT)
    assert sorted(one.of_result[1].number or 0 for one in made) == [1, 2, 3, 4]
    assert want_certificates(show=show, by=None, at=stage.AT) == made
    last = next(one for one in made if one.of_result[1].number == 4)
    drawn = demand_sound(last)
    words = text(drawn)
    assert drawn.pages == 1
    placing = Placing.objects.get(result=result, entry__number=4)
    for said in (
        "Certificate",
        "Last Willow",
        "took part in Trail wagon",
        "and was given fourth place among four entries judged",
        f"{placing.total} of 160 points",
        "Mara Ellison",
        "nothing of its safety or of the health of any animal",
        last.code_printed,
    ):
        assert said in words
