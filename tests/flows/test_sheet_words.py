"""How a class was judged, on its sheets; and text of all kinds, which stays text."""

from __future__ import annotations

from io import BytesIO
from typing import Any

import pytest
from pypdf import PdfReader

from entries.models import CrewMember, Entry
from judging.models import ClassCard, Criterion, Remark, Result, RigReport, Section
from judging.rules.cards.scorecard import Form
from reports import pdf
from reports.actions.draw_paper import lay_out
from showrun.shows.models import Person, Show, ShowClass
from tests import papers_stage as stage
from tests.drawn_papers import (
    demand_accessible,
    demand_inside,
    demand_sound,
    letters,
    paper_of,
    text,
    words_of,
)

pytestmark = pytest.mark.django_db

SCRIPT = '<script>alert("1")</script><img src="https://evil.example/x.png" onerror=go()>'
HOSTILE = {
    "markup": SCRIPT,
    "quotes": "\"Aunt's\" & 'Sons' <b>bold</b> &amp; &lt;",
    "template": "{{ 7|add:7 }} {% include 'x' %} {# gone #} ${7+7}",
    "accents": "Señor Björn Łukaszewicz-Dvořák, Ántonia ŒŘŽ ß",
    "one_word": "W" * 300,
}


@pytest.fixture
def show() -> Show:
    return stage.show()


def judged(show: Show, sections: list[Section]) -> Result:
    return stage.released_class(show, sections, n_entries=4)


def said_of(result: Result, kind: str, number: int) -> str:
    return words_of(paper_of(result, kind, number))


def test_what_the_class_declared_is_printed_on_its_feedback_sheet(show: Show) -> None:
    result = judged(show, stage.scorecard(show, n_sections=2))
    ClassCard.objects.update(
        gear_credit="original_first", marking="deduct_from_full", modern_items="zero_row",
        period_from=1866, period_to=1895, policy_note="Stoves with a chimney are modern here.",
    )  # fmt: skip
    declared = said_of(result, "feedback", 1).split("How this class was judged")[1]
    for words in (
        "Each row starts at its full mark and loses for every fault found.",
        "original earns more than restored",
        "A modern item gives its row zero.",
        "In period means from 1866 to 1895.",
        "A row that does not apply is left out",
        "Zero is a mark: the judge looked and gave nothing.",
        "Stoves with a chimney are modern here.",
    ):
        assert words in declared


def test_the_three_states_say_what_they_did_by_the_policy_of_the_class(show: Show) -> None:
    result = judged(show, stage.scorecard(show, n_sections=1))
    unseen = "Spokes and felloes 2 (1 of 3 judges)"
    sheet, award = (said_of(result, kind, 2) for kind in ("feedback", "award"))
    assert f"Could not be inspected, left out: {unseen}." in sheet
    assert "Does not apply, left out: Tires 3 (3 of 3 judges)." in sheet
    assert "Zero, a mark that earns nothing" not in sheet
    assert "rows that do not apply or could not be inspected are left out." in award


def test_where_a_row_not_inspected_counts_as_zero_both_sheets_say_so(show: Show) -> None:
    sections = stage.scorecard(show, n_sections=1)
    result = stage.released_class(show, sections, n_entries=4, not_inspected="zero")
    sheet, award = (said_of(result, kind, 2) for kind in ("feedback", "award"))
    assert "Could not be inspected, counted as zero: Spokes and felloes 2" in sheet
    assert "A row that could not be inspected counts as zero." in sheet
    assert "rows that could not be inspected count as zero." in award


def test_a_zero_is_named_as_the_mark_it_is(show: Show) -> None:
    sections = stage.scorecard(show, n_sections=1)
    result = stage.released_class(show, sections, n_entries=4, zero_row="Axles 4")
    assert "Zero, a mark that earns nothing: Axles 4 (3 of 3 judges)." in said_of(
        result, "feedback", 3
    )
    assert "Zero, a mark" not in said_of(result, "feedback", 4)


def test_failed_rows_and_places_are_told_in_their_own_words(show: Show) -> None:
    sections = stage.scorecard(show, n_sections=3)
    stage.give_form(sections[1], Form.PASS_FAIL, all_or_nothing=True)
    stage.give_form(sections[2], Form.PLACINGS)
    result = judged(show, sections)
    said = text(demand_sound(paper_of(result, "feedback", 2)))
    assert "Failed: Hubs and grease 1 (1 of 3 judges). One row failed gives the section" in said
    assert "places only. Given: Judge A, place 2; Judge B, place 2; Judge C, place 2." in said
    assert "the best of the class has the section’s worth" in said
    assert "rows belong to this rig and passed." in said_of(result, "feedback", 1)
    strongest = said.split("Strongest")[1].split("Rows are chosen")[0]
    assert "Camp kit" not in strongest
    assert "Wagon box" not in strongest


def test_a_corrected_rig_and_the_marks_kept_aside_are_told(show: Show) -> None:
    result = judged(show, stage.scorecard(show, n_sections=2))
    paper = paper_of(result, "feedback", 1)
    before = words_of(paper)
    assert "Rig as judged: drop tongue, team of two" in before
    assert "corrected" not in before
    report = stage.correct_rig(paper.of_result[1], tongue="stiff")
    said = words_of(paper)
    assert "Rig corrected at the wagon; as entered: stiff tongue." in said
    assert "Marked for another rig, kept and not counted: Brake 5." in said
    assert report.judge.person.name not in said
    stage.correct_rig(Entry.objects.get(show=show, number=2), tongue="stiff")
    assert words_of(paper).count("Brake 5") == 1
    RigReport.objects.update(state=RigReport.State.DECLINED)
    assert "Rig corrected" not in words_of(paper)


def test_a_concern_is_no_clearance_and_neither_is_none(show: Show) -> None:
    result = judged(show, stage.scorecard(show, n_sections=1))
    paper = paper_of(result, "feedback", 1)
    caution = (
        "A score or a concern is not a safety inspection, and the absence of a note is no proof "
        "of soundness."
    )
    assert caution in words_of(paper)
    stage.raise_concern(paper.of_result[1], "stop", "Crack at the hub.")
    said = words_of(paper)
    assert "Stop now: Crack at the hub." in said
    assert caution in said


@pytest.fixture
def asked_for(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Every address a sheet asks for while it is drawn."""
    seen: list[str] = []
    fetch = pdf.OwnAssets.fetch

    def look(self: pdf.OwnAssets, url: str, headers: Any = None) -> Any:
        seen.append(url)
        return fetch(self, url, headers)

    monkeypatch.setattr(pdf.OwnAssets, "fetch", look)
    return seen


@pytest.mark.parametrize("words", HOSTILE.values(), ids=list(HOSTILE))
def test_words_of_all_kinds_stay_words_on_paper(
    show: Show, words: str, asked_for: list[str]
) -> None:
    sections = stage.scorecard(show, n_sections=1)
    result = stage.released_class(show, sections, n_entries=2)
    entry = Entry.objects.get(show=show, number=2)
    stage.raise_concern(entry, "note", words)
    ClassCard.objects.update(policy_note=words)
    Remark.objects.filter(card__entry=entry).update(text=words)
    Criterion.objects.filter(section__in=sections).update(name=words[:80], guidance=words)
    Section.objects.filter(pk=sections[0].pk).update(name=words[:80])
    Entry.objects.filter(pk=entry.pk).update(wagon_name=words[:80], outfit=words[:80])
    CrewMember.objects.filter(entry=entry).update(name=words[:120])
    Person.objects.filter(name="Mara Ellison").update(name=words[:120])
    ShowClass.objects.update(name=words[:120])
    Show.objects.filter(pk=show.pk).update(name=words[:120], ground=words[:160])
    for kind, shown in (
        ("feedback", [words, words[:80], words[:120]]),
        ("award", [words[:80], words[:120], words[:160]]),
    ):
        drawn = lay_out(paper_of(result, kind, 2))
        said = letters(text(drawn))
        for one in shown:
            assert letters(one) in said, kind
        demand_accessible(drawn)
        demand_inside(drawn)
        reader = PdfReader(BytesIO(drawn.data))
        assert not any("/Annots" in sheet for sheet in reader.pages)
        assert "/JavaScript" not in str(reader.trailer["/Root"])
        assert not reader.attachments
    assert asked_for
    assert [url for url in asked_for if not url.startswith("asset:")] == []


def test_words_from_right_to_left_keep_all_their_letters(show: Show) -> None:
    words = "עגלת האוכל של דוד"
    result = judged(show, stage.scorecard(show, n_sections=1))
    ClassCard.objects.update(policy_note=words)
    Entry.objects.filter(show=show).update(wagon_name=f"{words} \u202e<b>")
    drawn = lay_out(paper_of(result, "feedback", 1))
    assert set(letters(words)) <= set(text(drawn))
    demand_accessible(drawn)
    demand_inside(drawn)
