"""Wanting, drawing, repeating and cancelling papers."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.conf import settings
from django.db import OperationalError
from django.utils.timezone import now

from judging.models import Placing, Result
from reports.actions import draw_paper as drawing
from reports.actions.cancel_papers import cancel_papers
from reports.actions.draw_paper import MOST_ATTEMPTS, draw_paper
from reports.actions.mark_queued import PATIENCE, mark_queued
from reports.actions.redo_papers import redo_paper, redo_papers
from reports.actions.want_papers import want_papers
from reports.models import Paper
from reports.pdf import Drawn
from reports.queries.papers import papers_for_entry, progress
from reports.rules.code import read_code
from reports.rules.queues import BULK, URGENT
from showrun.errors import Conflict, NotYet
from showrun.shows.models import AuditEntry, Person
from tests import papers_stage as stage

pytestmark = pytest.mark.django_db
AT = stage.AT
LATER = AT + timedelta(seconds=settings.PAPER_CLAIM_SECONDS + 1)


@pytest.fixture(autouse=True)
def _own_files(settings, tmp_path) -> None:
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def result() -> Result:
    show = stage.show()
    sections = stage.scorecard(show, n_sections=2, n_rows=3)
    return stage.released_class(show, sections, n_entries=4, places_awarded=2)


@pytest.fixture
def office(result: Result) -> Person:
    return stage.person("Nora Fields", "office", show=result.show_class.show)


@pytest.fixture
def wanted(result: Result, office: Person) -> list[Paper]:
    return want_papers(show=result.show_class.show, by=office, at=AT)


@pytest.fixture
def quick(monkeypatch) -> list[int]:
    """Lay papers out without laying out, and note which."""
    drawn: list[int] = []

    def lay_out(paper: Paper) -> Drawn:
        drawn.append(paper.pk)
        return Drawn(data=f"paper {paper.code}".encode(), pages=1)

    monkeypatch.setattr(drawing, "lay_out", lay_out)
    return drawn


def fresh(paper: Paper) -> Paper:
    return Paper.objects.get(pk=paper.pk)


def test_every_entry_gets_feedback_and_every_award_its_sheet(wanted: list[Paper]) -> None:
    kinds = [(one.kind, one.entry.number) for one in wanted if one.entry]
    assert sorted(kinds) == [("award", 1), ("award", 2), *(("feedback", n) for n in (1, 2, 3, 4))]
    assert {one.state for one in wanted} == {"wanted"}
    assert len({read_code(one.code) for one in wanted}) == 8


def test_a_class_gets_its_record_and_its_list_and_a_purse_sheet_where_anybody_is_paid(
    wanted: list[Paper], office: Person
) -> None:
    assert {one.kind for one in wanted if one.entry is None} == {"record", "calls"}
    assert {one.result_id for one in wanted} == {wanted[0].result_id}
    Placing.objects.filter(entry__number=1).update(purse_cents=5000)
    again = want_papers(show=wanted[0].show, by=office, at=LATER)
    assert [one.kind for one in again if one not in wanted] == ["purse"]
    assert {one.pk for one in wanted} < {one.pk for one in again}


def test_wanting_twice_changes_nothing(wanted: list[Paper], office: Person) -> None:
    Paper.objects.filter(pk=wanted[0].pk).update(state="failed", error="x")
    again = want_papers(show=wanted[0].show, by=office, at=LATER)
    assert {(one.pk, one.code) for one in again} == {(one.pk, one.code) for one in wanted}
    assert fresh(wanted[0]).state == "failed"
    assert AuditEntry.objects.filter(verb="wanted", subject="papers").count() == 1


def test_no_paper_of_an_unreleased_result(office: Person, result: Result) -> None:
    Result.objects.update(released_at=None)
    with pytest.raises(NotYet, match="released"):
        want_papers(show=result.show_class.show, by=office, at=AT)
    assert not Paper.objects.exists()


def test_a_corrected_result_gets_papers_of_its_own(wanted: list[Paper], office: Person) -> None:
    old = wanted[0].of_result[2]
    lines = list(old.placings.all())
    old.replaced_at = LATER
    old.save()
    new = Result.objects.get(pk=old.pk)
    new.pk, new.version, new.replaced_at, new.released_at = None, 2, None, LATER
    new.save()
    for line in lines:
        line.pk, line.result = None, new
        line.save()
    papers = want_papers(show=wanted[0].show, by=office, at=LATER)
    assert {one.version for one in papers} == {2}
    assert Paper.objects.filter(version=1).count() == 8
    assert progress(wanted[0].show).total == 8


def test_drawing_keeps_the_file_with_its_hash(wanted: list[Paper]) -> None:
    done = draw_paper(paper_id=wanted[0].pk, at=AT)
    assert done is not None
    assert (done.state, done.pages, done.attempts, done.error) == ("done", 1, 1, "")
    data = done.file.read()
    assert data.startswith(b"%PDF-1.7")
    assert Drawn(data, 1).content_hash == done.content_hash
    assert str(done.file.name).startswith("papers/")
    assert papers_for_entry(done.of_result[1]) == [done]


def test_a_paper_is_drawn_once_however_often_it_is_asked_for(
    wanted: list[Paper], quick: list[int]
) -> None:
    for moment in (AT, AT, LATER):
        draw_paper(paper_id=wanted[0].pk, at=moment)
    assert quick == [wanted[0].pk]
    assert draw_paper(paper_id=10**6, at=AT) is None


def test_a_claim_holds_until_it_expires(wanted: list[Paper], quick: list[int]) -> None:
    paper = wanted[0]
    Paper.objects.filter(pk=paper.pk).update(
        state="drawing", attempts=1, claimed_at=AT, claim_expires_at=LATER
    )
    assert draw_paper(paper_id=paper.pk, at=LATER - timedelta(seconds=1)) is None
    assert quick == []
    done = draw_paper(paper_id=paper.pk, at=LATER)
    assert done is not None
    assert (done.state, done.attempts) == ("done", 2)


def test_a_worker_that_lost_its_claim_writes_nothing(wanted: list[Paper], monkeypatch) -> None:
    paper = wanted[0]

    def slow(paper: Paper) -> Drawn:
        Paper.objects.filter(pk=paper.pk).update(attempts=2, claimed_at=LATER)
        return Drawn(b"late", 1)

    monkeypatch.setattr(drawing, "lay_out", slow)
    draw_paper(paper_id=paper.pk, at=AT)
    assert fresh(paper).state == "drawing"
    assert fresh(paper).content_hash == ""


def test_one_fault_stops_one_paper_only(wanted: list[Paper], monkeypatch) -> None:
    bad = wanted[0].pk

    def lay_out(paper: Paper) -> Drawn:
        if paper.pk == bad:
            raise KeyError("harness")
        return Drawn(b"good", 1)

    monkeypatch.setattr(drawing, "lay_out", lay_out)
    for paper in wanted:
        draw_paper(paper_id=paper.pk, at=AT)
    states = dict(Paper.objects.values_list("pk", "state"))
    assert states.pop(bad) == "failed"
    assert set(states.values()) == {"done"}
    assert fresh(wanted[0]).error == "KeyError: 'harness'"
    assert progress(wanted[0].show)[:3] == (7, 8, 1)


@pytest.mark.parametrize("fault", [OperationalError("database is locked"), OSError("disk full")])
def test_a_fault_of_the_moment_gives_the_paper_back(
    wanted: list[Paper], monkeypatch, fault: Exception
) -> None:
    def lay_out(paper: Paper) -> Drawn:
        raise fault

    monkeypatch.setattr(drawing, "lay_out", lay_out)
    paper = wanted[0]
    for _ in range(MOST_ATTEMPTS + 2):
        with pytest.raises(type(fault)):
            draw_paper(paper_id=paper.pk, at=AT)
        assert (fresh(paper).state, fresh(paper).attempts) == ("wanted", 0)
        assert str(fault) in fresh(paper).error
    monkeypatch.undo()
    done = draw_paper(paper_id=paper.pk, at=AT)
    assert done is not None
    assert (done.state, done.attempts, done.error) == ("done", 1, "")


def test_a_paper_that_takes_its_worker_down_is_given_up(wanted: list[Paper], monkeypatch) -> None:
    def lay_out(paper: Paper) -> Drawn:
        raise SystemExit  # no more than a killed process does it come to a word about it

    monkeypatch.setattr(drawing, "lay_out", lay_out)
    paper = wanted[0]
    for attempt in range(1, MOST_ATTEMPTS + 1):
        with pytest.raises(SystemExit):
            draw_paper(paper_id=paper.pk, at=AT + attempt * (LATER - AT))
        assert (fresh(paper).state, fresh(paper).attempts) == ("drawing", attempt)
    assert draw_paper(paper_id=paper.pk, at=AT + 8 * (LATER - AT)) is None
    assert fresh(paper).state == "failed"
    assert fresh(paper).error.startswith(f"Given up after {MOST_ATTEMPTS} attempts.")


def test_a_half_written_file_is_replaced(wanted: list[Paper], quick: list[int]) -> None:
    paper = wanted[0]
    done = draw_paper(paper_id=paper.pk, at=AT)
    assert done is not None
    with open(done.file.path, "wb") as half:
        half.write(b"pap")
    Paper.objects.filter(pk=paper.pk).update(state="wanted", file="")
    again = draw_paper(paper_id=paper.pk, at=AT)
    assert again is not None
    assert again.file.name == done.file.name
    assert again.file.read() == f"paper {paper.code}".encode()


def test_redrawn_is_the_same_file(wanted: list[Paper], office: Person) -> None:
    first = draw_paper(paper_id=wanted[0].pk, at=AT)
    assert first is not None
    redo_paper(paper=first, by=office, at=LATER)
    second = draw_paper(paper_id=first.pk, at=LATER)
    assert second is not None
    assert (second.content_hash, second.file.name) == (first.content_hash, first.file.name)


def test_a_waiting_paper_is_not_redone(wanted: list[Paper], office: Person) -> None:
    with pytest.raises(Conflict, match="waiting"):
        redo_paper(paper=wanted[0], by=office, at=AT)


def test_cancelled_papers_are_not_drawn_until_redone(
    wanted: list[Paper], office: Person, quick: list[int]
) -> None:
    show = wanted[0].show
    draw_paper(paper_id=wanted[0].pk, at=AT)
    assert cancel_papers(show=show, by=office, at=AT) == 7
    assert cancel_papers(show=show, by=office, at=AT) == 0
    assert draw_paper(paper_id=wanted[1].pk, at=AT) is None
    assert fresh(wanted[0]).state == "done"
    again = redo_papers(show=show, by=office, at=LATER)
    assert {one.pk for one in again} == {one.pk for one in wanted[1:]}
    assert draw_paper(paper_id=wanted[1].pk, at=LATER) is not None
    verbs = set(AuditEntry.objects.values_list("verb", flat=True))
    assert {"wanted", "cancelled", "redone"} <= verbs


def test_cancelling_while_it_is_drawn_wins(
    wanted: list[Paper], office: Person, monkeypatch
) -> None:
    def lay_out(paper: Paper) -> Drawn:
        cancel_papers(show=paper.show, by=office, at=AT)
        return Drawn(b"too late", 1)

    monkeypatch.setattr(drawing, "lay_out", lay_out)
    draw_paper(paper_id=wanted[0].pk, at=AT)
    assert fresh(wanted[0]).state == "cancelled"


def test_the_sweep_asks_again_but_not_at_once(wanted: list[Paper], quick: list[int]) -> None:
    assert mark_queued(at=AT) == []
    soon = AT + PATIENCE
    assert set(mark_queued(at=soon)) == set(wanted)
    assert mark_queued(at=soon + timedelta(seconds=1)) == []
    draw_paper(paper_id=wanted[0].pk, at=AT)
    Paper.objects.filter(pk=wanted[1].pk).update(state="drawing", claim_expires_at=LATER)
    assert set(mark_queued(at=soon + PATIENCE)) == set(wanted[2:])
    assert mark_queued(at=LATER - timedelta(seconds=1)) != [wanted[1]]
    assert wanted[1] in mark_queued(at=LATER)
    assert mark_queued(at=LATER + timedelta(seconds=1)) == []


def test_the_tasks_draw_and_sweep(wanted: list[Paper], quick: list[int], monkeypatch) -> None:
    from reports import tasks

    tasks.draw_paper_task(paper_id=wanted[0].pk)
    assert fresh(wanted[0]).state == "done"
    assert fresh(wanted[0]).done_at <= now()  # type: ignore[operator]
    sent: list[int] = []
    monkeypatch.setattr(tasks, "ask_for", lambda paper: sent.append(paper.pk))
    Paper.objects.filter(state="wanted").update(wanted_at=now() - PATIENCE)
    assert tasks.sweep_papers() == 7
    assert set(sent) == {one.pk for one in wanted[1:]}


def test_what_is_waited_for_at_a_table_has_a_queue_of_its_own(wanted: list[Paper], monkeypatch):
    from reports import tasks

    asked: list[tuple[str, str]] = []
    kinds = {paper.pk: paper.kind for paper in wanted}

    def note(*, kwargs: dict[str, int], queue: str) -> None:
        asked.append((kinds[kwargs["paper_id"]], queue))

    monkeypatch.setattr(tasks.draw_paper_task, "apply_async", note)
    for paper in wanted:
        tasks.ask_for(paper)
    assert set(asked) == {
        ("award", BULK), ("feedback", BULK), ("record", BULK), ("calls", URGENT),
    }  # fmt: skip
