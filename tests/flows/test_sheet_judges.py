"""What a feedback sheet calls its judges: letters, or names where the show's terms say so."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest

from entries.actions.set_terms import set_terms
from entries.models import EntryTerms
from entries.queries.terms import terms_of
from entries.rules.terms import Terms
from judging.models import Criterion, Result
from reports.queries.judge_names import called_judges, judges_named
from reports.queries.sheets import feedback_of
from reports.rules.letters import judge_letters
from showrun.shows.models import Show
from tests import papers_stage as stage
from tests.drawn_papers import demand_sound, drawn_from, paper_of, text, words_of
from tests.kept import kept_for_module

pytestmark = pytest.mark.django_db
LATER = stage.AT + timedelta(days=1)


@pytest.fixture(scope="module")
def kept_pk(django_db_setup: None, django_db_blocker: Any) -> Iterator[int]:
    """Four wagons, three judges."""
    with kept_for_module(django_db_blocker):
        made = stage.show()
        sections = stage.scorecard(made, n_sections=2)
        yield stage.released_class(made, sections, n_entries=4).pk


@pytest.fixture
def result(kept_pk: int, db: None) -> Result:
    return Result.objects.get(pk=kept_pk)


def name_judges(show: Show, *, named: bool, **when: Any) -> None:
    """Change the one term as the office does."""
    terms = Terms(entry_cap=show.entry_cap, names_judges=named)
    office = stage.person("Olive", "office", show=show)
    set_terms(show=show, terms=terms, by=office, **when)


def test_letters_stand_for_judges_unless_the_show_names_them(result: Result) -> None:
    said = words_of(paper_of(result, "feedback", 2))
    assert "Judge A:" in said
    assert "Judge No" not in said
    assert "Judges are not named on sheets" in said


def test_a_show_that_names_its_judges_does_so(result: Result) -> None:
    EntryTerms.objects.create(show=result.show_class.show, names_judges=True)
    said = text(demand_sound(paper_of(result, "feedback", 2)))
    assert "Judge No 1:" in said
    assert "Judge A" not in said
    assert "This show names its judges on sheets" in said


@pytest.mark.parametrize("named", [False, True])
def test_terms_changed_after_release_change_no_sheet_drawn_again(
    result: Result, named: bool
) -> None:
    show = result.show_class.show
    if named:
        EntryTerms.objects.create(show=show, names_judges=True)
    paper = paper_of(result, "feedback", 2)
    before = drawn_from(paper)
    name_judges(show, named=not named, at=LATER)
    assert terms_of(show).names_judges is not named
    assert drawn_from(paper) == before
    name_judges(show, named=named, at=LATER + timedelta(hours=1))
    name_judges(show, named=not named, at=LATER + timedelta(hours=2))
    assert drawn_from(paper) == before


def test_terms_set_before_release_hold(result: Result) -> None:
    show = result.show_class.show
    name_judges(show, named=True, at=stage.AT - timedelta(days=1))
    assert judges_named(result)
    name_judges(show, named=False, at=LATER)
    assert judges_named(result)


def test_no_number_on_the_sheet_works_out_whose_letter_it_is(result: Result) -> None:
    """The letters' salt is kept by the office; the printed code orders them by chance only."""
    paper = paper_of(result, "feedback", 2)
    entry, codes = paper.of_result[1], [f"J{n}" for n in (1, 2, 3)]
    said = called_judges(entry, result, codes, named=False)
    hashes = []
    for n in range(8):
        result.inputs_hash = f"{n:064d}"
        hashes.append(tuple(called_judges(entry, result, codes, named=False).items()))
    assert len(set(hashes)) > 1
    result.inputs_hash = "0" * 64
    assert called_judges(entry, result, reversed(codes), named=False) == said
    guessed = judge_letters(codes, paper.code)
    assert set(guessed.values()) == set(said.values())


def test_rows_worth_work_say_what_judges_look_for(result: Result) -> None:
    Criterion.objects.update(guidance="Grease that is fresh, and no play.")
    content = feedback_of(result.show_class, paper_of(result, "feedback", 2).of_result[1], result)
    said = words_of(paper_of(result, "feedback", 2))
    assert said.count("What judges look for: Grease that is fresh") == len(content["worth_work"])
    assert "In short. Above the middle of the class in every section." in said
