"""An exhibitor asks about a released result, and the office answers on record."""

from __future__ import annotations

from datetime import timedelta

import pytest

from judging.actions.exhibitor_queries import answer_query, ask_query, withdraw_query
from judging.actions.release_result import release_result
from judging.models import ExhibitorQuery, Result
from judging.queries.corrections import corrections, marks_changed
from judging.queries.queries_of import open_queries, queries_of_show
from showrun.errors import Conflict, InvalidInput, NotFound, NotYet
from showrun.shows.models import AuditEntry, Show
from tests.judged_show import AT, class_of, entry_of, office_of, steward_of
from tests.released_show import LATER, change_marks, change_one_mark, judged_with_purse, released
from tests.released_show import signed as sign_again
from tests.remembered import remembered

pytestmark = pytest.mark.django_db

SOON = AT + timedelta(minutes=10)


@pytest.fixture
@remembered
def show() -> Show:
    show = judged_with_purse()
    released(show)
    return show


def ask(show: Show, *, number: int = 1, text: str = "Why?", section: str = "", at=SOON, **other):
    entry = entry_of(show, number)
    result = Result.objects.released().get(show_class=class_of(show))
    given = {"result": result, "entry": entry, "by": entry.exhibitor, "at": at, **other}
    return ask_query(text=text, section=section, **given)


def answer(
    query: ExhibitorQuery, show: Show, verdict: str, text: str = "We looked again.", at=SOON
):
    return answer_query(query=query, verdict=verdict, answer=text, by=steward_of(show), at=at)


def test_a_query_is_kept_with_its_answer_and_both_are_recorded(show):
    query = ask(show, text="  Was the gap at the tongue read right? ", section="running_gear")
    assert (query.text, query.state) == ("Was the gap at the tongue read right?", "open")
    assert open_queries(show) == 1
    done = answer(query, show, "stands", " It was. ")
    assert (done.state, done.answer, done.answered_by) == ("stands", "It was.", steward_of(show))
    assert open_queries(show) == 0
    lines = AuditEntry.objects.filter(show=show, verb__contains="query").order_by("id")
    assert [(line.verb, line.actor) for line in lines] == [
        ("put a query", entry_of(show).exhibitor),
        ("answered a query", steward_of(show)),
    ]
    assert lines[1].after == {"query": query.pk, "state": "stands", "answer": "It was."}


@pytest.mark.parametrize(
    ("at", "said"),
    [
        (AT + timedelta(minutes=45), "time for queries about this result is over"),
        (AT - timedelta(seconds=1), "once the result is released"),
    ],
)
def test_the_window_is_the_classs_own(show, at, said):
    assert ask(show, at=AT + timedelta(minutes=44, seconds=59))
    with pytest.raises(NotYet, match=said):
        ask(show, number=2, at=at)


def test_three_are_the_most_and_withdrawn_ones_count(show):
    withdraw_query(query=ask(show), by=entry_of(show).exhibitor, at=SOON)
    ask(show)
    ask(show)
    with pytest.raises(NotYet, match="3 queries in this class; that is the most"):
        ask(show)
    assert ask(show, number=2)


def test_before_the_release_there_is_nothing_to_ask_about(show):
    unreleased = sign_again(show, code="working_harness")
    with pytest.raises(NotFound):
        ask(show, result=unreleased)
    assert not ExhibitorQuery.objects.exists()


@pytest.mark.parametrize(
    ("given", "field"),
    [({"text": " \n"}, "text"), ({"text": "x" * 601}, "text"), ({"section": "wings"}, "section")],
)
def test_what_makes_no_sense_is_refused_at_its_field(show, given, field):
    with pytest.raises(InvalidInput) as refused:
        ask(show, **given)
    assert list(refused.value.fields) == [field]
    assert ask(show, text="x" * 600)


def test_an_entry_without_a_place_asks_nothing(show):
    result = Result.objects.released().get(show_class=class_of(show))
    result.placings.filter(entry=entry_of(show, 1)).delete()
    with pytest.raises(NotFound):
        ask(show)


def test_it_is_answered_once_and_with_words(show):
    query = ask(show)
    with pytest.raises(InvalidInput):
        answer(query, show, "stands", " ")
    with pytest.raises(InvalidInput):
        answer(query, show, "perhaps")
    answer(query, show, "stands")
    with pytest.raises(Conflict, match="closed: answered: the result stands"):
        answer(query, show, "stands", "Again.")
    with pytest.raises(Conflict):
        withdraw_query(query=query, by=query.asked_by, at=SOON)


def test_corrected_needs_a_version_made_after_the_query(show):
    query = ask(show)
    with pytest.raises(NotYet, match="not corrected yet"):
        answer(query, show, "corrected")
    change_marks(show, number=1, value=10, at=LATER)
    newer = sign_again(show, reason="Read again.", at=LATER)
    # The exhibitor could not see yet what the answer speaks of.
    assert not queries_of_show(show)[0].corrected
    with pytest.raises(NotYet, match="sign and release it"):
        answer(query, show, "corrected", at=LATER)
    release_result(result=newer, by=steward_of(show), at=LATER)
    assert queries_of_show(show)[0].corrected
    assert answer(query, show, "corrected", at=LATER).state == "corrected"


def test_a_version_made_before_the_query_is_no_correction_of_it(show):
    change_marks(show, number=1, value=10, at=SOON)
    sign_again(show, reason="Read again.", at=SOON)
    query = ask(show, at=SOON + timedelta(seconds=1))
    assert not queries_of_show(show)[0].corrected
    with pytest.raises(NotYet, match="not corrected yet"):
        answer(query, show, "corrected")


def test_a_correction_opens_the_window_anew_and_closes_the_former_version(show):
    former = Result.objects.released().get(show_class=class_of(show))
    change_marks(show, number=1, value=10, at=LATER)
    much_later = AT + timedelta(hours=5)
    newer = sign_again(show, reason="Read again.", at=much_later)
    release_result(result=newer, by=office_of(show), at=much_later)
    with pytest.raises(Conflict, match="newer version"):
        ask(show, result=former)
    assert ask(show, at=much_later + timedelta(minutes=44)).result == newer


def test_the_open_ones_come_first(show):
    first, second = ask(show), ask(show, number=2, at=SOON + timedelta(minutes=1))
    answer(first, show, "stands")
    assert [line.query for line in queries_of_show(show)] == [second, first]


# --- What a correction changed -------------------------------------------------------------


def test_a_correction_names_places_totals_purse_and_marks(show):
    before = {
        p.entry.number: p for p in Result.objects.get(show_class=class_of(show)).placings.all()
    }
    last = max(before.values(), key=lambda placing: placing.place).entry.number
    assert last
    for code in ("J1", "J2", "J3"):
        change_marks(show, number=last, value=10, judge=code, at=LATER)
    result = sign_again(show, reason="Cards were read again.", at=LATER)
    correction = corrections([result], released=False)[result.pk]
    assert correction.former.version == 1
    after = {placing.entry.number: placing for placing in result.placings.all()}
    own = correction.of_entry(entry_of(show, last))
    assert own
    assert own.change.words == f"from place {len(before)} to place 1"
    assert own.purse == "+$450.00"
    assert own.change.total_by == after[last].total - before[last].total
    assert {line.entry.number for line in correction.moved} == {
        number for number in before if before[number].place != after[number].place
    }
    assert sum(line.change.purse_by for line in correction.lines) == 0
    changed = marks_changed(correction)
    assert {mark.entry for mark in changed} == {str(entry_of(show, last))}
    assert {mark.now for mark in changed} == {"10"}
    assert all(0 <= int(mark.was) < 10 for mark in changed)
    assert len({mark.judge for mark in changed}) == 3


def test_one_mark_that_moves_no_place_is_named_with_its_row(show):
    change_one_mark(show, number=3, row="hn_lines", value=1, at=LATER)
    result = sign_again(show, reason="A slip.", at=LATER)
    (mark,) = marks_changed(corrections([result], released=False)[result.pk])
    assert (mark.entry, mark.now) == (str(entry_of(show, 3)), "1")
    assert mark.row.startswith("Harness")


def test_the_public_is_told_of_released_versions_alone(show):
    change_marks(show, number=1, value=10, at=LATER)
    second = sign_again(show, reason="One.", at=LATER)
    change_marks(show, number=1, value=2, at=LATER + timedelta(minutes=5))
    third = sign_again(show, reason="Two.", at=LATER + timedelta(minutes=5))
    former = corrections([third], released=True)[third.pk].former
    assert (former.version, second.released_at) == (1, None)
    Result.objects.filter(version=1).update(released_at=None)
    assert corrections([third], released=True) == {}
    assert corrections([third], released=False)[third.pk].former == second
