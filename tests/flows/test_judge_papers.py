"""A judge's own report and the study sheet as papers, read back."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from judging.actions.adopt_scorecard import adopt_from_library
from judging.models import Criterion, Judge, Result
from judging.queries.library import handbook, library_cards
from reports.actions.draw_paper import draw_paper, lay_out
from reports.actions.want_judge_reports import want_judge_reports
from reports.actions.want_study_sheet import want_study_sheet
from reports.models import Paper
from reports.queries.papers import is_replaced
from showrun.errors import NotYet
from showrun.shows.models import Person, Show
from tests import papers_stage as stage
from tests.drawn_papers import (
    demand_accessible,
    demand_inside,
    demand_sound,
    draw_plainly,
    text,
)

pytestmark = pytest.mark.django_db
AT = stage.AT


@pytest.fixture(autouse=True)
def _own_files(settings: Any, tmp_path: Any) -> None:
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def show() -> Show:
    return stage.show()


@pytest.fixture
def result(show: Show) -> Result:
    return stage.released_class(show, stage.scorecard(show, n_sections=2), n_entries=6)


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def test_a_report_is_of_one_judge_and_names_no_other(show: Show, result: Result) -> None:
    papers = want_judge_reports(show=show, by=None, at=AT)
    assert [paper.judge and paper.judge.code for paper in papers] == ["J1", "J2", "J3"]
    assert want_judge_reports(show=show, by=None, at=AT) == papers
    drawn = demand_sound(papers[1])
    words = text(drawn)
    assert "Judge No 2 (J2)" in words
    assert "It does not say who was right" in words
    assert "Running gear" in words
    for other in ("Judge No 1", "Judge No 3", "J1", "J3"):
        assert other not in words
    assert lay_out(papers[1]).data == drawn.data


def test_no_report_before_every_result_of_the_judge_is_out(show: Show, result: Result) -> None:
    paper = want_judge_reports(show=show, by=None, at=AT)[0]
    Result.objects.update(released_at=None)
    with pytest.raises(NotYet, match="result"):
        want_judge_reports(show=show, by=None, at=AT)
    with pytest.raises(NotYet, match="result"):
        lay_out(paper)


def test_a_judge_fetches_the_own_report_after_release_and_nobody_elses(
    show: Show, result: Result, monkeypatch: pytest.MonkeyPatch
) -> None:
    draw_plainly(monkeypatch)
    for paper in want_judge_reports(show=show, by=None, at=AT):
        draw_paper(paper_id=paper.pk, at=AT)
    own, other = (Paper.objects.get(judge__code=code) for code in ("J1", "J2"))
    assert own.judge and other.judge
    judge = signed_in(own.judge.person)
    address = reverse("reports:judge-report-paper", args=[own.judge.pk])
    for path in (address, f"/papers/{own.pk}/file"):
        assert judge.get(path).status_code == 200
    for path in (
        reverse("reports:judge-report-paper", args=[other.judge.pk]),
        f"/papers/{other.pk}/file",
    ):
        assert judge.get(path).status_code == 404
        assert signed_in(stage.person("A Stranger")).get(path).status_code == 404
    office = signed_in(stage.person("Nora Fields", "office", show=show))
    assert office.get(address).status_code == 200
    Result.objects.update(released_at=None)
    for path in (address, f"/papers/{own.pk}/file"):
        assert judge.get(path).status_code == 404


def test_a_later_printing_is_the_one_that_counts(show: Show, result: Result) -> None:
    first = want_judge_reports(show=show, by=None, at=AT)[0]
    assert not is_replaced(first)
    Paper.objects.filter(pk=first.pk).update(state="done", file="x", content_hash="y")
    second = want_judge_reports(show=show, by=None, at=AT)[0]
    assert (second.judge, second.version) == (first.judge, 2)
    assert is_replaced(first)
    assert not is_replaced(second)
    # Another judge's later printing replaces nobody's.
    assert all(
        not is_replaced(paper) for paper in Paper.objects.filter(judge__in=Judge.objects.all()[1:])
    )


@pytest.mark.parametrize("size", ["letter", "a4"])
def test_a_study_sheet_has_every_part_of_the_card_and_no_other(
    show: Show, size: str, settings: Any
) -> None:
    settings.PAPER_SIZE = size
    sections = stage.scorecard(show, n_sections=2, n_rows=2)
    chosen = list(handbook())[:2] + list(handbook())[-1:]
    row = Criterion.objects.filter(section__in=sections).first()
    assert row is not None
    Criterion.objects.filter(pk=row.pk).update(parts=chosen)
    words = text(demand_sound(want_study_sheet(show=show, by=None, at=AT)))
    assert "The 3 parts that judges of this show look at" in words
    assert "A score is not a safety inspection." in words
    for code, part in handbook().items():
        assert (part.job in words) == (code in chosen), code


def test_without_parts_there_is_no_study_sheet(show: Show) -> None:
    stage.scorecard(show)
    with pytest.raises(NotYet, match="no part of the handbook"):
        want_study_sheet(show=show, by=None, at=AT)


def test_a_whole_card_of_the_library_is_a_sheet(show: Show) -> None:
    cards = library_cards()
    code = max(cards, key=lambda one: str(cards[one]).count("'parts'"))
    adopt_from_library(show=show, code=code, by=None, at=AT)
    drawn = lay_out(want_study_sheet(show=show, by=None, at=AT))
    demand_accessible(drawn)
    demand_inside(drawn)
    assert drawn.pages > 2


def test_only_the_office_asks_for_them_and_everybody_else_is_refused(
    show: Show, result: Result
) -> None:
    page = reverse("reports:papers", args=[show.slug])
    office = signed_in(stage.person("Nora Fields", "office", show=show))
    for deed, kind, count in (("reports", "report", 3), ("certificates", "certificate", 6)):
        assert office.post(page, {"deed": deed}).status_code == 302
        assert Paper.objects.filter(show=show, kind=kind).count() == count
    steward = signed_in(stage.person("Hal Steward", "steward", show=show))
    assert steward.post(page, {"deed": "reports"}).status_code == 403
